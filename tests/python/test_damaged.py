"""Damaged files and odd entries: one sentence of ours, nothing printed, and the process goes on."""

from __future__ import annotations

import random
import subprocess
import sys
import zipfile
from decimal import Decimal
from pathlib import Path

import polars as pl
import pytest
import rootling as rl
from conftest import ROLES

# Damages a parquet file in eighty ways: each is refused or read, nothing is printed, and the process lives.
PARQUET = """
import random, sys
from pathlib import Path
import rootling as rl
roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
path, whole = Path(sys.argv[1]), Path(sys.argv[1]).read_bytes()
draw, refused = random.Random(7), 0
for _ in range(80):
    bytes_ = bytearray(whole)
    footer = int.from_bytes(whole[-8:-4], "little")
    match draw.randrange(4):
        case 0:
            bytes_ = bytes_[: draw.randrange(len(bytes_))]
        case 1:
            for _ in range(3):
                bytes_[draw.randrange(len(bytes_))] = draw.randrange(256)
        case 2:
            bytes_[len(bytes_) - 8 - draw.randrange(1, footer)] = draw.randrange(256)
        case _:
            start = draw.randrange(len(bytes_))
            del bytes_[start : start + draw.randrange(1, 30)]
    path.write_bytes(bytes(bytes_))
    try:
        rl.load_trial(path, **roles)
    except rl.RootlingError as error:
        assert "panic" not in str(error).lower() and "unwrap" not in str(error), error
        refused += 1
print(refused > 40)
"""


def test_damaged_parquet_is_refused(frame: pl.DataFrame, tmp_path: Path) -> None:
    path = tmp_path / "trial.parquet"
    pl.concat([frame] * 10).write_parquet(path)
    command = [sys.executable, "-W", "ignore", "-c", PARQUET, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, "True", "")


# Found by the fuzz: an invented trial with one damaged byte: polars 2.1.0 asks for 2^61 bytes and ends its
# process.
ENDS_A_PROCESS = Path(__file__).parents[1] / "data" / "damaged_page.parquet"


def test_a_file_that_ends_its_reader_does_not_end_this_process() -> None:
    code = (
        "import sys, rootling as rl\n"
        "try:\n"
        "    rl.load_trial(sys.argv[1], rooted='rooted', stuck='stuck', treatments=['strength'], tray='tray')\n"
        "except rl.TrialDataError as error:\n"
        "    print(error.issues[0].code)\n"
    )
    command = [sys.executable, "-W", "ignore", "-c", code, str(ENDS_A_PROCESS)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, "unreadable", "")


@pytest.mark.parametrize("content", [b"", b"PAR1", b"PAR1PAR1", b"PAR1" + b"\xff" * 40 + b"PAR1", b"x,y\n1,2\n" * 9])
def test_what_is_no_parquet_file_is_told(content: bytes, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "trial.parquet"
    path.write_bytes(content)
    with pytest.raises(rl.TrialDataError, match=r"the table cannot be read .*; open it, check it and save it again"):
        rl.load_trial(path, **ROLES)
    assert capfd.readouterr().err == ""


def test_damaged_workbooks_are_refused(frame: pl.DataFrame, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "trial.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", "<worksheet>" * 50)
    whole, draw = path.read_bytes(), random.Random(3)
    for _ in range(60):
        damaged = bytearray(whole)
        for _ in range(draw.randrange(1, 6)):
            damaged[draw.randrange(len(damaged))] = draw.randrange(256)
        path.write_bytes(bytes(damaged[: draw.randrange(1, len(damaged) + 1)]))
        with pytest.raises(rl.RootlingError):
            rl.load_trial(path, **ROLES)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "it is empty"),
        (b"strength,rooted", "it is no workbook, whatever its name says"),
        (
            bytes.fromhex("d0cf11e0a1b11ae1") + b"x" * 600,
            "it is behind a password, or an old workbook under a new name",
        ),
        (b"PK" + b"x" * 60, "it is damaged, or packed in a way that its reader does not know"),
    ],
)
def test_what_is_no_workbook_is_told(content: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "trial.xlsx"
    path.write_bytes(content)
    with pytest.raises(rl.TrialDataError) as found:
        rl.load_trial(path, **ROLES)
    wanted = f"the table cannot be read ({said}); open it, check it and save it again, or give it as csv"
    assert str(found.value).splitlines()[1].strip() == wanted


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"])
def test_a_workbook_with_a_damaged_part_says_nothing_of_its_reader(
    frame: pl.DataFrame, part: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    whole, path = tmp_path / "whole.xlsx", tmp_path / "trial.xlsx"
    frame.write_excel(whole)
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            held = old.read(name)
            new.writestr(name, held[: len(held) // 2] if name == part else held)
    with pytest.raises(rl.TrialDataError, match=r"\(it is damaged, or packed in a way that its reader does not know\)"):
        rl.load_trial(path, **ROLES)
    assert capfd.readouterr().err == ""


def test_decimals_that_are_no_numbers_are_missing(frame: pl.DataFrame) -> None:
    columns = frame.to_dict(as_series=False)
    columns["rooted"] = [Decimal(count) for count in columns["rooted"]]
    whole = rl.load_trial(columns, **ROLES)
    assert whole.tray_counts().equals(rl.load_trial(frame, **ROLES).tray_counts())
    for odd, code in (("NaN", "missing_value"), ("sNaN", "text_in_count"), ("Infinity", "text_in_count")):
        columns["rooted"][2] = Decimal(odd)
        with pytest.raises(rl.TrialDataError) as found:
            rl.load_trial(columns, **ROLES)
        assert [(issue.code, issue.row) for issue in found.value.issues] == [(code, 3)]


@pytest.mark.parametrize("entry", [[Decimal("NaN")], (Decimal("NaN"), 1), {"a": Decimal("NaN")}, [1, 2]])
def test_lists_in_a_column_are_refused_or_passed_over(entry: object, capfd: pytest.CaptureFixture[str]) -> None:
    columns = {"strength": [0, 0, 1, 1], "rooted": [1, 2, 3, 4], "stuck": [9] * 4, "odd": [entry] * 4}
    rl.load_trial(columns, rooted="rooted", stuck="stuck", treatments=["strength"])
    with pytest.raises(rl.TrialDataError, match=r'column "odd": entries of type List\(String\) cannot be read'):
        rl.load_trial(columns, rooted="odd", stuck="stuck", treatments=["strength"])
    assert capfd.readouterr().err == ""
