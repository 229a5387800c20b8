"""What sheets of a nursery ask, and the line that answers: pasted as it is shown, it loads."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import TrialDataError

pytestmark = pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
NAMED: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "mix", "tray": "tray"}
MEANS: dict[str, list[Any]] = {
    "mix": ["a"] * 5 + ["b"] * 5,
    "tray": [1, 2, 3, 4, "Mean", 5, 6, 7, 8, "Mean"],
    "stuck": [20] * 10,
    "rooted": [3, 4, 6, 5, 4.5, 9, 8, 10, 12, 9.75],
}


def _asked(data: Any, **named: Any) -> TrialDataError:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, **named)
    return found.value


def _pasted(error: TrialDataError, data: Any) -> rl.Trial:
    space: dict[str, Any] = {"rl": rl, "data": data}
    assert error.paste is not None, str(error)
    assert error.paste in str(error)
    exec(error.paste.replace("load_trial(...", "load_trial(data"), space)
    return space["trial"]  # type: ignore[no-any-return]


@pytest.mark.parametrize("comma", [False, True])
def test_mean_rows_with_a_fraction_are_left_out(comma: bool) -> None:
    data = dict(MEANS)
    if comma:
        data["rooted"] = [str(count).replace(".", ",") for count in MEANS["rooted"]]
    error = _asked(data, **NAMED)
    assert {issue.code for issue in error.issues} == {"total_row"}
    assert "leave_out=[5, 10]" in str(error.paste)
    trial = _pasted(error, data)
    assert trial.design.n_units == 8
    assert rl.load_trial(data, **NAMED, leave_out=[5, 10]).design.n_units == 8


@pytest.mark.parametrize("label", ["% rooted", "rooted %", "Percent rooted"])
def test_a_row_of_percentages_below_a_wide_sheet_is_left_out(label: str) -> None:
    data = {
        "bench": ["1", "2", "3", "average", label],
        "0 ppm": [2, 1, 4, 2.33, 0.0972],
        "1000 ppm": [9, 4, 18, 10.33, 0.4306],
    }
    named: dict[str, Any] = {"wide": {"strength": {0: "0 ppm", 1000: "1000 ppm"}}, "stuck": 24, "block": "bench"}
    error = _asked(data, **named, tray="each-row")
    assert {issue.code for issue in error.issues} == {"total_row"}
    assert "leave_out=[4, 5]" in str(error.paste)
    assert sum(_pasted(error, data).tray_counts()["rooted"]) == 38


def test_a_percentage_beside_a_number_names_a_level() -> None:
    data = {"mix": ["1 % talc", "2 % talc"] * 4, "tray": range(8), "rooted": [3, 9] * 4, "stuck": [20] * 8}
    assert rl.load_trial(data, **NAMED).design.n_units == 8


def test_left_out_rows_are_not_checked_and_no_problem() -> None:
    data = {**MEANS, "rooted": [3, 4, 6, 5, "#DIV/0!", 9, 8, 10, 30, "-"]}
    error = _asked(data, **NAMED, leave_out=[5, 10])
    assert str(error).startswith("1 problem in the trial data:\n  row 9")
    assert "left out" not in str(error)
    percent = {**MEANS, "pct": [15, 20, 30, 25, 22.5, 45, 40, 50, 60, 48.75]}
    del percent["rooted"]
    named = {**NAMED, "rooted_percent": "pct"}
    del named["rooted"]
    assert rl.load_trial(percent, **named, leave_out=[5, 10]).design.n_units == 8
    assert _pasted(_asked(percent, **named), percent).design.n_units == 8


@pytest.mark.parametrize("label", ["\u00d8", "%", "all", "mn", "x\u0304", "Av.", "x-bar"])
def test_marks_of_averages_are_asked_about_in_joined_labels_too(label: str) -> None:
    data = {**MEANS, "tray": [1, 2, 3, 4, label, 1, 2, 3, 4, label], "rooted": [3, 4, 6, 5, 5, 9, 8, 10, 12, 10]}
    error = _asked(data, **{**NAMED, "tray": ["mix", "tray"]})
    assert {issue.code for issue in error.issues} == {"total_row"}
    assert _pasted(error, data).design.n_units == 8


def test_a_word_among_numbers_at_the_mean_is_asked_about() -> None:
    data = {**MEANS, "tray": [1, 2, 3, 4, "y", 5, 6, 7, 8, "z"], "rooted": [3, 5, 6, 4, 4.5, 9, 8, 10, 12, 9.75]}
    assert {issue.code for issue in _asked(data, **NAMED).issues} == {"mean_row"}
    rounded = {**data, "rooted": [3, 5, 6, 4, 5, 9, 8, 10, 12, 10]}
    assert _pasted(_asked(rounded, **NAMED), rounded).design.n_units == 8
    other = {**data, "rooted": [3, 5, 6, 4, 12, 9, 8, 10, 12, 10]}
    assert rl.load_trial(other, **NAMED).design.n_units == 10


WIDE: dict[str, list[Any]] = {
    "row": list("ABCD"),
    "0 ppm": [2, 3, 1, 2],
    "1000 ppm": [7, 9, 8, 6],
    "2000 ppm": [12, 13, 9, 11],
    "16000 ppm": [0, 0, 1, 0],
}
LEVELS = list(WIDE)[1:]


@pytest.mark.parametrize("strength", [None, rl.Strength("IBA", unit="mg/L", method="quick dip")])
def test_names_with_units_are_asked_about(strength: rl.Strength | None) -> None:
    error = _asked(WIDE, wide={"strength": LEVELS}, stuck=20, block="row", strength=strength)
    assert [issue.code for issue in error.issues] == ["unit_in_names"]
    trial = _pasted(error, WIDE)
    assert trial.tray_counts()["strength"].unique(maintain_order=True).to_list() == ["0", "1000", "2000", "16000"]
    words = {"strength": {name: name for name in LEVELS}}
    assert rl.load_trial(WIDE, wide=words, stuck=20, block="row").design.n_units == 16


def test_names_in_another_unit_than_the_declared_one_are_converted() -> None:
    molar = rl.Strength("IBA", unit="mM", method="quick dip")
    error = _asked(WIDE, wide={"strength": LEVELS}, stuck=20, block="row", strength=molar)
    levels = _pasted(error, WIDE).tray_counts()["strength"].unique(maintain_order=True).to_list()
    # IBA has 203.24 g/mol (indole-3-butyric acid, C12H13NO2): 1000 mg/L are 1000 / 203.24 mM
    assert [float(level) for level in levels] == pytest.approx([n / 203.24 for n in (0, 1000, 2000, 16000)], rel=1e-4)
    said = rl.Strength("IBA", unit="mg/L", method="quick dip")
    mg = {name.replace("ppm", "mg/L"): counts for name, counts in WIDE.items()}
    assert rl.load_trial(mg, wide={"strength": list(mg)[1:]}, stuck=20, block="row", strength=said).design.n_units == 16
    # A powder's weight by weight is no weight by volume: only the user knows.
    powder = {name.replace("ppm", "mg/kg"): counts for name, counts in WIDE.items()}
    error = _asked(powder, wide={"strength": list(powder)[1:]}, stuck=20, block="row", strength=said)
    assert error.paste is None
    assert "Once that is put right" not in str(error)


@pytest.mark.parametrize(
    "names",
    [
        ["0 ppm", "1000 mg/L", "2500 ppm"],
        ["control", "1000 ppm", "2500 ppm"],
        ["0 ppm", "1,000 ppm", "2,500 ppm"],
        ["0 mg/L IBA", "1000 mg/L IBA", "2500 mg/L IBA"],
    ],
)
@pytest.mark.parametrize("strength", [None, rl.Strength("IBA", unit="ppm", method="quick dip")])
def test_every_name_with_a_unit_ends_with_a_line_that_loads(names: list[str], strength: rl.Strength | None) -> None:
    sheet = {"row": list("ABCD")} | {name: [2 + at, 3, 1, 2] for at, name in enumerate(names)}
    if strength is None and names[0] == "control":
        assert '"control" is 0' in str(_asked(sheet, wide={"strength": names}, stuck=20, block="row"))
    error = _asked(sheet, wide={"strength": names}, stuck=20, block="row", strength=strength)
    counts = _pasted(error, sheet).tray_counts()
    assert counts["strength"].unique(maintain_order=True).to_list() == ["0", "1000", "2500"]


def test_without_the_number_stuck_both_problems_are_told() -> None:
    error = _asked(WIDE, wide={"strength": LEVELS}, block="row")
    assert error.issues[0].code == "unit_in_names"
    assert "Then there would be 1 problem" in str(error)
    assert "name it with stuck=" in str(error)
    assert error.paste is None


def test_a_dot_that_can_be_read_two_ways_has_no_line() -> None:
    sheet = {"row": list("ABCD"), "0 ppm": [2, 3, 1, 2], "1.000 ppm": [7, 9, 8, 6]}
    assert _asked(sheet, wide={"strength": list(sheet)[1:]}, stuck=20, block="row").paste is None


def test_a_row_of_counts_is_no_row_of_names(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text("row;2 ppm;4 ppm\nA;2;4\nB;4;2\nC;2;2\n", encoding="utf-8")
    error = _asked(path, wide={"strength": [2, 3, 4]}, stuck=20, block="row")
    assert {issue.code for issue in error.issues} == {"unknown_column"}
    assert "stands over two" not in str(error)
    assert "Once that is put right" not in str(error)


def test_a_wrong_row_of_names_is_answered_with_the_right_one(tmp_path: Path) -> None:
    path = tmp_path / "titled.csv"
    path.write_text("Bramblescar\n\nmix,tray,rooted,stuck\na,1,3,20\na,2,4,20\nb,3,9,20\nb,4,8,20\n", encoding="utf-8")
    for row, said in ((2, "is empty"), (1, "holds Bramblescar")):
        error = _asked(path, **NAMED, header_row=row)
        assert f"row {row}: the row named as the one of the column names {said}" in str(error)
        assert _pasted(error, path).design.n_units == 4


SHEET: dict[str, list[Any]] = {
    "Bench": ["A", None, None, None, "B", None, None, None, "C", None, None, None],
    "mix": ["a", "b"] * 6,
    "tray": [1, 2, 3, 4] * 3,
    "rooted": [3, 9, 4, 8, 5, 11, 2, 7, 6, 9, 5, 12],
    "No. stuck": [20, 20, 22, 21] * 3,
}


def test_trays_numbered_afresh_keep_their_benches() -> None:
    data = {**SHEET, "stuck": SHEET["No. stuck"]}
    error = _asked(data, **NAMED)
    assert [issue.code for issue in error.issues] == ["tray_restarts"]
    assert 'the column "Bench" tells them apart' in str(error)
    trial = _pasted(error, data)
    assert "block Bench: 3 levels; every one holds all levels of mix" in trial.design.lines
    del data["Bench"]
    error = _asked(data, **NAMED)
    assert error.paste is None
    assert "block= or whole_plot=" in str(error)


def test_a_forgotten_number_stuck_is_found() -> None:
    named = {name: value for name, value in NAMED.items() if name != "stuck"}
    error = _asked(SHEET, **named, block="Bench", fill_down="Bench")
    assert _pasted(error, SHEET).design.n_cuttings == 249
    data = {name: column for name, column in SHEET.items() if name != "No. stuck"}
    error = _asked(data, **named, block="Bench", fill_down="Bench")
    assert error.paste is None
    assert "Once that is put right" not in str(error)


def test_yes_and_no_with_a_number_stuck() -> None:
    data = {"mix": ["a"] * 4 + ["b"] * 4, "tray": [1, 1, 2, 2, 3, 3, 4, 4], "rooted": list("ynynyyny")}
    error = _asked(data, **{**NAMED, "stuck": 2})
    assert [issue.code for issue in error.issues] == ["yes_no_with_stuck"]
    assert "stuck=" not in str(error.paste)
    assert _pasted(error, data).design.n_units == 4


def test_reasons_in_a_column_of_remarks_are_offered() -> None:
    data = {
        "mix": ["a"] * 4 + ["b"] * 4,
        "tray": list(range(8)),
        "rooted": [3, 4, None, 5, 9, 8, 7, None],
        "stuck": [20] * 8,
        "remarks": [None, None, "mice", None, "edge", None, None, "frost"],
    }
    error = _asked(data, **NAMED)
    assert 'the column "remarks" seems to say why; lost="remarks"' in str(error)
    trial = _pasted(error, data)
    assert {issue.code for issue in trial.set_aside} == {"lost_tray"}


def test_columns_that_were_not_named_are_told() -> None:
    data = rl.demo.two_strengths(seed=1)
    named = {**NAMED, "treatments": "strength"}
    trial = rl.load_trial(data, **named)
    (line,) = (line for line in trial.design.lines if line.startswith("columns of the table not used"))
    assert "bench" in line
    (note,) = (note for note in trial.notes if note.code == "unused_place")
    assert 'block="bench"' in note.text
    assert all(note.code != "unused_place" for note in rl.load_trial(data, **named, block="bench").notes)


def test_one_cell_of_a_wide_sheet_is_no_row() -> None:
    data = {"row": list("ABCD"), "0": [2, 3, 1, 2], "1000": [7, "lost", 8, 6]}
    trial = rl.load_trial(data, wide={"strength": ["0", "1000"]}, stuck=20, block="row", bad_rows="set-aside")
    assert "1 cell set aside" in repr(trial)
