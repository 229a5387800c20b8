"""What an option names has to be there: rows, questions, levels, sheets; else it would change nothing, in silence."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from conftest import ROLES, TESTS
from rootling.exceptions import ChoiceError, TrialDataError


@pytest.mark.parametrize(("rows", "told"), [(99, "row 99, which is"), ([2, 99, 13], "rows 99, 13, which are")])
def test_a_row_to_be_left_out_has_to_be_there(frame: pl.DataFrame, rows: Any, told: str) -> None:
    with pytest.raises(TrialDataError, match=rf"leave_out= names {told} not in the table; its rows are 1 to 12"):
        rl.load_trial(frame, **ROLES, leave_out=rows)
    assert len(rl.load_trial(frame, **ROLES, leave_out=12).set_aside) == 1


@pytest.mark.parametrize("more", [{}, {"header_row": 1}, {"tray": "each-row"}])
def test_rows_of_a_file_are_numbered_as_a_spreadsheet_does(frame: pl.DataFrame, tmp_path: Path, more: Any) -> None:
    path = tmp_path / "trial.csv"
    frame.write_csv(path)
    for row in (1, 14):
        with pytest.raises(TrialDataError, match=rf"row {row}, which .* rows are 2 to 13, as a spreadsheet numbers"):
            rl.load_trial(path, **{**ROLES, **more}, leave_out=row)
    for row in (2, 13):
        assert [one.row for one in rl.load_trial(path, **{**ROLES, **more}, leave_out=row).set_aside] == [row]


def test_a_row_with_too_many_fields_can_be_left_out(frame: pl.DataFrame, tmp_path: Path) -> None:
    path = tmp_path / "trial.csv"
    lines = frame.write_csv().splitlines()
    path.write_text("\n".join([*lines[:3], lines[3] + ",,counted twice", *lines[4:]]), encoding="utf-8")
    with pytest.raises(TrialDataError, match="fields where the header has") as found:
        rl.load_trial(path, **ROLES, header_row=1)
    (issue,) = found.value.issues
    assert issue.paste == "leave_out=[4]"
    assert len(rl.load_trial(path, **ROLES, header_row=1, leave_out=4).set_aside) == 1


def test_a_question_has_to_be_one(frame: pl.DataFrame) -> None:
    with pytest.raises(ChoiceError, match=r'question in checked= "nonsense" is not known; known: absent_levels, '):
        rl.load_trial(frame, **ROLES, checked=["one_level", "nonsense"])
    with pytest.raises(ChoiceError, match='did you mean "percent_as_counts"'):
        rl.load_trial(frame, **ROLES, checked="percent_as_count")
    assert rl.load_trial(frame, **ROLES, checked="percent_as_counts").design.n_units == 12


def test_every_question_that_is_asked_can_be_answered(frame: pl.DataFrame) -> None:
    source = "".join(path.read_text(encoding="utf-8") for path in (TESTS.parent / "src" / "trial").rglob("*.rs"))
    asked = set(re.findall(r'checked=\[\\"(\w+)\\"\]', source)) | set(re.findall(r'"(restarted_\w+)"', source))
    asked |= set(re.findall(r'"(sum_row|mean_row|thousands_or_decimals)"', source))
    with pytest.raises(ChoiceError) as found:
        rl.load_trial(frame, **ROLES, checked="?")
    assert set(str(found.value).partition("known: ")[2].split(", ")) == asked


def test_an_order_names_each_level_once_and_none_that_was_not_tried(frame: pl.DataFrame) -> None:
    with pytest.raises(TrialDataError, match='level "2500" stands twice in level_order=') as found:
        rl.load_trial(frame, **ROLES, level_order={"strength": [2500, 5000, 2500]})
    assert found.value.paste is not None
    order = {"strength": [5000, 2500, 9000]}
    with pytest.raises(TrialDataError, match='level "9000" of level_order= does not occur; the levels are') as found:
        rl.load_trial(frame, **ROLES, level_order=order)
    assert found.value.issues[0].paste == 'level_order={"strength": ["5000", "2500"]}'
    trial = rl.load_trial(frame, **ROLES, level_order=order, checked="absent_levels")
    assert [rate.levels for rate in trial.take_rates("strength").rates] == [("5000",), ("2500",)]


def test_what_a_file_does_not_have_is_no_option_of_it(frame: pl.DataFrame, tmp_path: Path) -> None:
    text, table = tmp_path / "trial.csv", tmp_path / "trial.parquet"
    frame.write_csv(text)
    frame.write_parquet(table)
    with pytest.raises(ChoiceError, match=r"sheet= is for workbooks, and 'trial.csv' is none; leave it out"):
        rl.load_trial(text, **ROLES, sheet="K12")
    with pytest.raises(ChoiceError, match=r"encoding= is for text files, and 'trial.parquet' is none; leave it out"):
        rl.load_trial(table, **ROLES, encoding="cp1252")
    with pytest.raises(ChoiceError, match=r"header_row= is for sheets, and 'trial.parquet' holds its names by itself"):
        rl.load_trial(table, **ROLES, header_row=1)
    with pytest.raises(ChoiceError, match=r"thousands= and decimal= are both ','; leave one of them out"):
        rl.load_trial(text, **ROLES, thousands=",", decimal=",")


def test_counts_are_not_taken_from_the_tray_above(frame: pl.DataFrame) -> None:
    with pytest.raises(TrialDataError, match=r'column "rooted": fill_down= names a column of counts'):
        rl.load_trial(frame, **ROLES, fill_down=["rooted"])
    assert rl.load_trial(frame, **ROLES, fill_down=["stuck", "strength"]).design.n_units == 12


def test_a_level_is_short_enough_to_be_asked_for(frame: pl.DataFrame) -> None:
    def renamed(letters: int) -> pl.DataFrame:
        long = pl.lit("x" * letters)
        return frame.with_columns(strength=pl.when(pl.col("strength") == 2500).then(long).otherwise(pl.lit("short")))

    with pytest.raises(TrialDataError, match=r'column "strength": a level has 1001 letters, more than the 1000'):
        rl.load_trial(renamed(1001), **ROLES)
    trial = rl.load_trial(renamed(1000), **ROLES)
    assert trial.compare("strength", "short", "x" * 1000).kind == "comparison"
    with pytest.raises(ChoiceError, match="is too long for a level, which has at most 1000 letters"):
        trial.compare("strength", "short", "x" * 1001)


SHEET = {"bay": [1, 1, 2, 2, 3, 3], "0": [3, 4, 2, 3, 5, 4], "1000": [9, 11, 12, 10, 9, 8]}
WIDE = {"wide": {"strength": ["0", "1000"]}, "stuck": 20}


@pytest.mark.parametrize("role", ["whole_plot", "block", "stock_plant"])
def test_a_row_that_holds_several_levels_contradicts_labels_that_start_afresh(role: str) -> None:
    with pytest.raises(
        TrialDataError, match=r'row 1 holds strength 0 and 1000 in bay "1"; if a bay held them'
    ) as found:
        rl.load_trial(SHEET, **WIDE, **{role: ["strength", "bay"]})
    assert found.value.paste is not None
    assert f"{role}='bay'" in found.value.paste
    joined = rl.load_trial(SHEET, **WIDE, **{role: ["strength", "bay"]}, checked=f"restarted_{role}s")
    assert any("bay within strength" in line for line in joined.design.lines) or role == "stock_plant"


def test_whole_rooms_may_stand_in_one_row() -> None:
    """Darkness is given to whole bays: those of one row are bays of their own, whatever the sheet looks like."""
    sheet = {"bay": SHEET["bay"], "0": SHEET["0"], "21": SHEET["1000"]}
    roles: dict[str, Any] = {"wide": {"dark_days": ["0", "21"]}, "stuck": 20, "whole_plot": ["dark_days", "bay"]}
    assert any("6 levels" in line for line in rl.load_trial(sheet, **roles).design.lines)
    # A row with one level contradicts nothing.
    one: dict[str, list[Any]] = {
        "bay": [1, 1, 2, 2] * 2,
        "0": [3, 4, 2, 3] + [None] * 4,
        "1000": [None] * 4 + [9, 8, 7, 9],
    }
    assert any("4 levels" in line for line in rl.load_trial(one, **WIDE, whole_plot=["strength", "bay"]).design.lines)


@pytest.mark.parametrize("name", ["1000 ppm", "1000ppm", "IBA 1000 ppm", "1000 ppm IBA", "NAA 1000 mg/L"])
def test_a_number_with_a_unit_comes_with_the_whole_line(name: str, tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(f"bench;0;{name}\nA;3;9\nB;4;11\nC;2;12\nD;3;10\n", encoding="utf-8")
    with pytest.raises(TrialDataError, match="hold a number and a unit") as found:
        rl.load_trial(path, wide={"strength": ["0", name]}, stuck=20, block="bench")
    line = found.value.paste
    assert line is not None
    assert str(found.value).endswith(line)
    names: dict[str, Any] = {"rl": rl}
    exec(line, names)
    assert names["trial"].take_rates("strength").rates[1].levels == ("1000",)


def test_columns_of_two_substances_are_words() -> None:
    sheet = {"bench": list("ABCD"), "IBA 1000 ppm": [3, 4, 2, 3], "NAA 1000 ppm": [9, 11, 12, 10]}
    trial = rl.load_trial(sheet, wide={"auxin": list(sheet)[1:]}, stuck=20, block="bench")
    assert [rate.levels for rate in trial.take_rates("auxin").rates] == [("IBA 1000 ppm",), ("NAA 1000 ppm",)]
