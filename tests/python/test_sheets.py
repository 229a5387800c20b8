"""Sheets as nurseries keep them load right, or stop with a line that loads them right; none loads wrong."""

from __future__ import annotations

import pickle
import warnings
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, TrialDataError
from sheets_made import Made, all_made

MADE = all_made()


def _counts(trial: rl.Trial, treatments: list[str]) -> Counter[Any]:
    frame = trial.tray_counts()
    # Treatments stand first, counts last.
    names = [*frame.columns[: len(treatments)], *frame.columns[-2:]]
    return Counter(tuple(map(str, row)) for row in frame.select(names).iter_rows())


def _truth(made: Made, treatments: list[str]) -> Counter[Any]:
    return Counter(tuple(str(tray[name]) for name in (*treatments, "rooted", "stuck")) for tray in made.truth)


def _asked(made: Made) -> dict[str, Any]:
    ask = dict(made.ask)
    if "strength" in ask:
        ask["strength"] = rl.Strength(**ask["strength"])
    return ask


def _pasted(line: str) -> rl.Trial:
    space: dict[str, Any] = {"rl": rl}
    exec(line, space)
    trial = space["trial"]
    assert isinstance(trial, rl.Trial)
    return trial


def _try(load: Any) -> tuple[rl.Trial | None, TrialDataError | None]:
    try:
        return load(), None
    except TrialDataError as error:
        return None, error


def _follow(path: Path, ask: dict[str, Any]) -> tuple[rl.Trial, list[TrialDataError]]:
    """Loads the sheet; where it stops, pastes the line it gives, at most three times."""
    errors: list[TrialDataError] = []
    trial, error = _try(lambda: rl.load_trial(path, **ask))
    while error is not None:
        errors.append(error)
        line = error.paste
        assert line is not None, str(error)
        assert str(error).endswith(line)
        assert len(errors) <= 3, f"no line loads it: {error}"
        trial, error = _try(lambda line=line: _pasted(line))  # type: ignore[misc]
    assert trial is not None
    return trial, errors


def test_there_are_at_least_sixty_sheets() -> None:
    assert len(MADE) >= 60
    assert len({made.name for made in MADE}) == len(MADE)


@pytest.mark.parametrize("made", MADE, ids=lambda made: made.name)
def test_each_sheet_loads_right_or_says_the_line(made: Made, tmp_path: Path) -> None:
    path = made.save(tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        trial, errors = _follow(path, _asked(made))
    treatments = made.ask.get("treatments", ["strength"])
    assert _counts(trial, treatments) == _truth(made, treatments)
    assert bool(errors) == made.stops, errors
    if made.says is not None:
        assert made.says in {note.code for note in trial.notes}


ARGUMENTS: list[tuple[dict[str, Any], str]] = [
    ({"strength": "IBA"}, 'strength=rl.Strength("IBA", unit="mg/L", method="quick dip")'),
    ({"strength": "mg/L"}, 'strength=rl.Strength("IBA", unit="mg/L", method="quick dip")'),
    ({"treatments": None}, 'treatments=["strength"]'),
    ({"treatments": 5}, 'treatments=["first", "second"]'),
    ({"control": 0}, 'control={"strength": 0}'),
    ({"control": (0,)}, 'control={"strength": [0]}'),
    ({"level_order": [10, 0]}, 'level_order={"strength": [10, 0]}'),
    ({"level_order": {"strength": 10}}, "level_order="),
    ({"rooted": None}, 'rooted="rooted"'),
    ({"rooted": 3}, 'rooted="name of the column"'),
    ({"stuck": 0}, "stuck=20"),
    ({"stuck": 2.5}, "stuck=20"),
    ({"stuck": True}, "stuck=20"),
    ({"tray": 4}, "tray="),
    ({"wide": ["0", "1000"]}, 'wide={"strength": ["0", "1000", "3000"]}'),
    ({"leave_out": "all"}, "leave_out=[14, 15]"),
    ({"thousands": "x"}, 'thousands="."'),
    ({"header_row": 4}, "header_row= is for files"),
    ({"sheet": "one"}, "sheet= is for files"),
    ({"treatment": "strength"}, "did you mean 'treatments'?"),
    ({"bad_row": "stop"}, "did you mean 'bad_rows'?"),
]


@pytest.mark.parametrize(("wrong", "part"), ARGUMENTS, ids=lambda value: str(value))
def test_a_wrong_argument_is_answered_with_the_right_one(wrong: dict[str, Any], part: str) -> None:
    data = {"strength": [0, 0, 10, 10], "tray": [1, 2, 3, 4], "rooted": [1, 2, 3, 4], "stuck": [20] * 4}
    asked = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", **wrong}
    with pytest.raises(ChoiceError) as found:
        rl.load_trial(data, **asked)
    assert part in str(found.value)


def test_a_mistake_is_told_once(tmp_path: Path) -> None:
    rows = 20_000
    data = {
        "strength": [0, 10] * (rows // 2),
        "tray": ["A", "B"] * (rows // 2),
        "rooted": [3] * rows,
        "stuck": [20] * rows,
    }
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
    assert len(str(found.value)) < 2000
    assert max(len(issue.reason) for issue in found.value.issues) < 300


def test_rows_are_numbered_as_the_spreadsheet_shows_them(tmp_path: Path) -> None:
    path = tmp_path / "trial.csv"
    path.write_text("A title\n\nstrength,tray,rooted,stuck\n0,a,3,20\n\n10,b,30,20\n", encoding="utf-8")
    with pytest.raises(TrialDataError, match='row 6, column "rooted": 30 rooted of 20 stuck'):
        rl.load_trial(path, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")


def test_labels_are_labels() -> None:
    codes = ["123456789012345678", "123456789012345679", "1E2", "10E1", "012", "0012", "12", "K12"]
    data = {"strength": [0, 10] * 4, "tray": codes, "rooted": [3] * 8, "stuck": [20] * 8}
    asked: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, **asked)
    assert {issue.code for issue in found.value.issues} == {"similar_levels"}
    trial = rl.load_trial(data, **asked, distinct_levels=True)
    assert sorted(trial.tray_counts()["tray"]) == sorted(codes)


def test_a_shaped_trial_survives_pickling() -> None:
    sheet = {"bench": ["A", "B", "C", "D"], "0": [3, 4, 2, 3], "1000": [9, 11, 12, 10]}
    trial = rl.load_trial(sheet, wide={"strength": ["0", "1000"]}, stuck=20, tray="each-row", block="bench")
    again = pickle.loads(pickle.dumps(trial))
    assert again.fingerprint == trial.fingerprint
    assert [note.code for note in again.notes] == [note.code for note in trial.notes]


@pytest.mark.parametrize(
    ("strength", "part"),
    [
        (rl.Strength("IBA", unit="mg/L"), "unusual for any method"),
        (rl.Strength("an unknown salt", unit="mM"), "molar mass is not known"),
    ],
)
def test_strengths_nobody_can_judge_are_said(strength: rl.Strength, part: str) -> None:
    data = {"strength": [0] * 4 + [0.1] * 4, "tray": list(range(8)), "rooted": [1, 2, 3, 4] * 2, "stuck": [20] * 8}
    with pytest.warns(rl.exceptions.StrengthWarning, match=part):
        rl.load_trial(data, rooted="rooted", stuck="stuck", treatments="strength", tray="tray", strength=strength)


def workbook(path: Path, sheets: dict[str, list[list[Any]]]) -> Path:
    import xlsxwriter

    with xlsxwriter.Workbook(path) as book:
        for name, rows in sheets.items():
            page = book.add_worksheet(name)
            for at, row in enumerate(rows):
                page.write_row(at, 0, row)
    return path


TRAYS = [
    ["strength", "tray", "rooted", "stuck"],
    *([level, tray, 3 + tray, 20] for level in (0, 10) for tray in range(4)),
]
NAMED = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": ["strength", "tray"]}


def test_sheets_of_a_workbook_are_named(tmp_path) -> None:
    path = workbook(tmp_path / "two.xlsx", {"K12": TRAYS, "K17": TRAYS})
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(path, **NAMED)
    assert {issue.code for issue in found.value.issues} == {"several_sheets"}
    assert "sheet='K12'" in found.value.paste
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(path, **NAMED, sheet="K30")
    assert {issue.code for issue in found.value.issues} == {"unknown_sheet"}
    assert rl.load_trial(path, **NAMED, sheet="K17").design.n_units == 8


def test_an_entry_far_away_is_seen_before_anything_is_read(tmp_path) -> None:
    import xlsxwriter

    path = tmp_path / "vast.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("K12")
        for at, row in enumerate(TRAYS):
            page.write_row(at, 0, row)
        page.write(1_048_575, 16_383, "x")
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(path, **NAMED)
    assert {issue.code for issue in found.value.issues} == {"vast_sheet"}


UNREADABLE: list[tuple[str, str, bytes]] = [
    ("empty", "csv", b""),
    ("blank", "csv", b"\n\n\n"),
    ("names only", "csv", b"strength,tray,rooted,stuck\n"),
    ("a name twice", "csv", b"strength,tray,rooted,rooted,stuck\n0,a,3,4,20\n10,b,5,6,20\n"),
    ("no text", "csv", b"\x00\x01\x02\xff" * 50),
    ("no workbook", "xlsx", b"\x00\x01\x02\xff" * 50),
    ("empty workbook", "xlsx", b""),
    ("no parquet", "parquet", b"strength"),
    ("a count that cannot be", "csv", b"strength,tray,rooted,stuck\n0,a,30,20\n0,c,3,20\n10,b,5,20\n10,d,6,20\n"),
    ("a wrong name", "csv", b"strenght,tray,rooted,stuck\n0,a,3,20\n10,b,5,20\n"),
]


@pytest.mark.parametrize(("name", "form", "content"), UNREADABLE, ids=[one[0] for one in UNREADABLE])
def test_every_error_ends_with_a_line_to_paste(name: str, form: str, content: bytes, tmp_path: Path) -> None:
    path = tmp_path / f"trial.{form}"
    path.write_bytes(content)
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(path, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
    last = str(found.value).splitlines()[-1].strip()
    assert last.startswith("trial = rl.load_trial(")
    compile(last, "line", "exec")
    # What cannot be set aside is not offered to be: the names of columns.
    assert (name == "a name twice") <= ("set-aside" not in last)


def test_a_stray_entry_is_named_by_its_cell(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "far.xlsx"
    with xlsxwriter.Workbook(path) as book:
        page = book.add_worksheet("K12")
        for at, row in enumerate(TRAYS):
            page.write_row(at, 0, row)
        page.write(1_048_575, 16_383, "x")
    with pytest.raises(TrialDataError, match="something stands in XFD1048576") as found:
        rl.load_trial(path, **NAMED)
    assert "far.csv" in str(found.value).splitlines()[-1]


@pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
def test_a_wide_sheet_may_hold_cuttings_stuck_beside_each_level(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    rows = ["bench,0 rooted,0 stuck,1000 rooted,1000 stuck", "A,3,20,9,18", "B,4,19,,", "C,2,20,12,20"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    pairs = {0: ("0 rooted", "0 stuck"), 1000: ("1000 rooted", "1000 stuck")}
    trial = rl.load_trial(path, wide={"strength": pairs}, tray="each-row", block="bench")
    counts = trial.tray_counts().sort(["strength", "bench"])
    assert counts["rooted"].to_list() == [3, 4, 2, 9, 12]
    assert counts["stuck"].to_list() == [20, 19, 20, 18, 20]
    assert {note.code for note in trial.notes} >= {"wide_sheet"}
    again = pickle.loads(pickle.dumps(trial))
    assert again.fingerprint == trial.fingerprint
    with pytest.raises(ChoiceError, match="leave stuck= out"):
        rl.load_trial(path, wide={"strength": pairs}, stuck=20, tray="each-row", block="bench")
    with pytest.raises(ChoiceError, match="for some levels only"):
        rl.load_trial(path, wide={"strength": {0: pairs[0], 1000: "1000 rooted"}}, tray="each-row", block="bench")


def test_cuttings_stuck_without_a_count_are_asked_about(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    rows = ["bench,0 rooted,0 stuck,1000 rooted,1000 stuck", "A,3,20,9,18", "B,4,19,,20", "C,2,20,12,20"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    pairs = {0: ("0 rooted", "0 stuck"), 1000: ("1000 rooted", "1000 stuck")}
    with pytest.raises(TrialDataError, match="row 3"):
        rl.load_trial(path, wide={"strength": pairs}, tray="each-row", block="bench")
