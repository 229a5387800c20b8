"""A line to paste goes through, or is not shown; what is no tray is asked about."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import RootlingWarning, TrialDataError

ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}


@pytest.fixture(autouse=True)
def _few_trays_are_no_matter_here() -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RootlingWarning)
        yield


def _error(data: Any, **asked: Any) -> TrialDataError:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, **asked)
    return found.value


def _paste(error: TrialDataError, data: Any) -> rl.Trial:
    assert error.paste is not None, str(error)
    space: dict[str, Any] = {"rl": rl, "data": data}
    exec(error.paste.replace("load_trial(..., ", "load_trial(data, "), space)
    trial = space["trial"]
    assert isinstance(trial, rl.Trial)
    return trial


def _demo() -> dict[str, list[Any]]:
    return rl.demo.two_strengths(seed=3).to_dict(as_series=False)


@pytest.mark.parametrize(
    "mark", ["Av.", "\u00d8", "\u03a3", "\u2211", "%", "all", "MW", "moy.", "Total", "pr\u016fm\u011br"]
)
def test_rows_of_averages_and_sums_are_no_trays(mark: str) -> None:
    sheet = {
        "strength": ["a"] * 4 + ["b"] * 4,
        "tray": [1, 2, 3, mark, 4, 5, 6, mark],
        "rooted": [3, 4, 5, 4, 6, 7, 8, 7],
        "stuck": [20] * 8,
    }
    error = _error(sheet, **ROLES)
    assert {issue.code for issue in error.issues} == {"total_row"}
    trial = _paste(error, sheet)
    assert trial.design.n_units == 6
    assert rl.load_trial({**sheet, "tray": list(range(8))}, **ROLES).design.n_units == 8


@pytest.mark.parametrize("level", ["all", "SD 3", "Ave", "Med", "\u00d8"])
def test_a_level_of_several_trays_may_be_called_so(level: str) -> None:
    sheet = {
        "strength": [level] * 4 + ["bark"] * 4,
        "tray": list(range(8)),
        "rooted": [3, 4, 5, 4, 6, 7, 8, 7],
        "stuck": [20] * 8,
    }
    assert rl.load_trial(sheet, **ROLES).design.n_units == 8


def test_groups_that_end_in_their_mean_are_asked_about() -> None:
    sheet = {
        "strength": ["a"] * 4 + ["b"] * 4 + ["c"] * 4,
        "tray": list(range(12)),
        # The fourth of each four is the mean of the three before it.
        "rooted": [3, 4, 5, 4, 6, 9, 6, 7, 2, 9, 4, 5],
        "stuck": [20] * 12,
    }
    error = _error(sheet, **ROLES)
    assert [issue.row for issue in error.issues] == [4, 8, 12]
    assert {issue.code for issue in error.issues} == {"mean_row"}
    assert _paste(error, sheet).design.n_units == 9
    assert rl.load_trial(sheet, **ROLES, checked="mean_row").design.n_units == 12


def test_a_column_named_by_its_number_is_found_with_its_unit() -> None:
    sheet = {"0 mg/L": [3, 4, 2, 5], "500 mg/L": [9, 8, 7, 9], "5000 mg/L": [4, 5, 6, 5]}
    error = _error(sheet, wide={"strength": [0, 500, 5000]}, stuck=20, tray="each-row")
    assert "{'strength': {0: '0 mg/L', 500: '500 mg/L', 5000: '5000 mg/L'}}" in str(error.paste)
    assert _paste(error, sheet).design.n_units == 12


def test_forgotten_stuck_is_found_or_has_no_line() -> None:
    asked = {"rooted": "rooted", "treatments": "strength", "tray": "tray"}
    demo = _demo()
    assert _paste(_error(demo, **asked), demo).design.n_cuttings == 240
    assert _error({name: column for name, column in demo.items() if name != "stuck"}, **asked).paste is None


def test_swapped_counts_are_swapped_back() -> None:
    error = _error(_demo(), **{**ROLES, "rooted": "stuck", "stuck": "rooted"})
    assert [issue.code for issue in error.issues] == ["swapped_counts"]
    assert _paste(error, _demo()).tray_counts()["stuck"].sum() == 240


def test_a_number_in_quotes_is_the_number_stuck() -> None:
    error = _error(_demo(), **{**ROLES, "stuck": "20"})
    assert "stuck=20" in str(error.paste)
    assert _paste(error, _demo()).design.n_units == 12


@pytest.mark.parametrize("asked", [{"season": "harvest"}, {"block": "room"}])
def test_a_column_that_is_like_no_other_has_no_line(asked: dict[str, str]) -> None:
    error = _error(_demo(), **ROLES, **asked)
    assert error.paste is None
    assert "one of" not in str(error)


def test_spellings_of_one_level_have_no_line() -> None:
    sheet = {"strength": ["Peat", "peat ", "Bark", "bark"] * 2, "rooted": [3] * 8, "stuck": [20] * 8}
    error = _error(sheet, **{**ROLES, "tray": "each-row"})
    assert error.paste is None
    assert "write them alike" in str(error)


def test_places_are_not_dropped_for_trays_of_their_own() -> None:
    sheet = {
        "strength": ["0", "0", "1", "1"] * 4,
        "bay": [bay for bay in "ABCD" for _ in range(4)],
        "heat": [heat for heat in ("cool", "cool", "warm", "warm") for _ in range(4)],
        "tray": ["1", "2", "1", "2"] * 4,
        "rooted": [5, 6, 9, 8] * 4,
        "stuck": [20] * 16,
    }
    asked = {**ROLES, "treatments": ["heat", "strength"], "tray": ["strength", "tray"]}
    error = _error(sheet, **asked)
    assert "whole_plot='bay'" in str(error.paste)
    assert _paste(error, sheet).design.n_units == 16
    error = _error({name: column for name, column in sheet.items() if name != "bay"}, **asked)
    assert error.paste is None
    assert "block= or whole_plot=" in str(error)


def test_the_name_of_a_frame_is_not_made_up() -> None:
    error = _error(_demo(), **{**ROLES, "rooted": "rootd"})
    assert str(error.paste).startswith("trial = rl.load_trial(..., rooted='rooted'")
    assert "with your data for ..." in str(error)
    with pytest.raises(TrialDataError, match="the dots stand for your data"):
        rl.load_trial(..., **ROLES)


def test_what_the_first_answers_uncover_is_told_with_them() -> None:
    sheet = {**_demo(), "rooted": [99, *_demo()["rooted"][1:]]}
    error = _error(sheet, **{**ROLES, "rooted": "rootd"})
    assert {issue.code for issue in error.issues} == {"unknown_column", "rooted_above_stuck"}
    assert "Then there would be 1 problem" in str(error)
    assert _paste(error, sheet).design.n_units == 11


@pytest.mark.parametrize("stuck", [10, 15])
def test_a_wrong_number_stuck_is_not_a_single_level(stuck: int) -> None:
    error = _error(_demo(), **{**ROLES, "stuck": stuck})
    assert {issue.code for issue in error.issues} == {"rooted_above_stuck"}
    assert f"is stuck={stuck} right" in str(error)
    assert error.paste is None


def test_halves_are_not_a_single_level() -> None:
    sheet = {"strength": ["a", "b"] * 2, "rooted": [7.5, 9, 7.5, 9], "stuck": [20] * 4}
    error = _error(sheet, **{**ROLES, "tray": "each-row"})
    assert "one_level" not in {issue.code for issue in error.issues}
    assert error.paste is None


def test_a_wide_sheet_counts_trays_without_being_told() -> None:
    sheet = {"0": [3, 4, 2, 3], "1000": [9, 11, 12, 10]}
    trial = rl.load_trial(sheet, wide={"strength": ["0", "1000"]}, stuck=20)
    assert trial.design.unit == "tray"
    assert trial.design.n_units == 8
    assert "No trays" not in repr(trial)


def test_a_name_over_merged_cells_is_found(tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    path.write_text("Bench,IBA mg/L,,\n,0,1000,3000\nT1,3,9,12\nT2,4,10,11\nT3,3,11,10\n", encoding="utf-8")
    trial = rl.load_trial(path, wide={"strength": ["0", "1000", "3000"]}, stuck=20, block="Bench")
    assert trial.design.n_units == 9
    assert "block Bench: 3 levels" in repr(trial)
    assert any('"Bench" was taken from row 1' in note.text for note in trial.notes)


def test_rows_set_aside_read_as_a_table_and_rows_count_once() -> None:
    sheet = {"tray": ["A", "B", "C", "mean"], "0": [3, 4, 2, 3], "1000": [9, 11, 12, 10], "3000": [8, 9, 8, 9]}
    trial = rl.load_trial(sheet, wide={"strength": ["0", "1000", "3000"]}, stuck=20, tray="tray", leave_out=4)
    assert "1 row set aside" in repr(trial)
    lines = repr(trial.set_aside).splitlines()
    assert len(lines) == 2
    assert lines[0].split() == ["row", "column", "why"]
    assert "Issue(" not in repr(trial.set_aside)
    assert "<table" in trial.set_aside._repr_html_()
    assert isinstance(trial.set_aside, tuple)
    error = _error(sheet, wide={"strength": ["0", "1000", "3000"]}, stuck=20, tray="tray")
    assert "likewise" not in str(error)


def test_much_set_aside_is_said_aloud() -> None:
    sheet = {
        "strength": ["a", "", "", "b", "", "", "c", "", ""],
        "rooted": [3, 4, 5, 6, 7, 8, 4, 5, 6],
        "stuck": [20] * 9,
    }
    trial = rl.load_trial(sheet, **{**ROLES, "tray": "each-row"}, bad_rows="set-aside")
    assert "6 of 9 rows were set aside" in repr(trial)


def test_warnings_point_to_the_line_that_asked() -> None:
    sheet = {"strength": ["a", "b"], "tray": ["1", "2"], "rooted": [7, 9], "stuck": [20, 20]}
    with warnings.catch_warnings(record=True) as found:
        warnings.simplefilter("always")
        rl.load_trial(sheet, **ROLES)
    assert [Path(one.filename).name for one in found] == [Path(__file__).name]
