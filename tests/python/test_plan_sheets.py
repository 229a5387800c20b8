"""Sheets to carry and back: a plan's record sheet, filled in as a person would, becomes the trial of its data."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import openpyxl
import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ReportError, RootlingWarning, TrialDataError

# Names that a spreadsheet would spoil.
ODD = ["=K12+1", "007", "1E5", "-5", "@walnut", "+more", "'quoted", "K 30, late"]


@pytest.fixture
def plan() -> rl.plan.Layout:
    return rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)


def rooted_of(code: str) -> int:
    """What is counted in a tray, told by its code alone as a reader would not know more."""
    return sum(map(ord, code)) % 7 + 2


def fill(path: Path, *, leave: int = 0) -> None:
    """Types the counts into a workbook, cell by cell."""
    book = openpyxl.load_workbook(path)
    sheet = book.active
    names = [cell.value for cell in sheet[1]]
    for line in list(sheet.iter_rows(min_row=2))[: -leave or None]:
        line[names.index("rooted")].value = rooted_of(line[names.index("tray")].value)
        line[names.index("dead")].value = 1
        line[names.index("date")].value = "2026-06-01"
    book.save(path)


def by_hand(plan: rl.plan.Layout) -> rl.Trial:
    """The same trial from columns that somebody wrote down."""
    rows = {
        "strength": [int(tray.levels[0]) for tray in plan.trays],
        "tray": [tray.tray for tray in plan.trays],
        "block": [tray.block for tray in plan.trays],
        "rooted": [rooted_of(tray.tray) for tray in plan.trays],
        "dead": [1] * len(plan.trays),
        "stuck": [20] * len(plan.trays),
    }
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "dead": "dead", "tray": "tray", "block": "block"}
    return rl.load_trial(rows, treatments=["strength"], **roles)


def test_from_plan_to_sheet_to_answer(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    trial = rl.load_trial(path, plan=plan)
    wanted = by_hand(plan)
    assert trial.fingerprint == wanted.fingerprint
    assert trial.tray_counts().sort("tray").equals(wanted.tray_counts().sort("tray"))
    found, same = (one.compare("strength", 2500, 5000) for one in (trial, wanted))
    assert found.sentence == same.sentence
    assert found.value == same.value


@pytest.mark.parametrize("source", ["record", "json", "csv", "xlsx"])
def test_a_plan_is_taken_in_every_form(plan: rl.plan.Layout, tmp_path: Path, source: str) -> None:
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    (tmp_path / "plan.json").write_text(plan.to_json(), encoding="utf-8")
    kept: Any = {"record": plan.to_dict(), "json": tmp_path / "plan.json"}.get(source)
    kept = plan.key(tmp_path / f"key.{source}") if kept is None else kept
    assert rl.load_trial(path, plan=kept).fingerprint == by_hand(plan).fingerprint


def test_a_csv_that_a_spreadsheet_saved_in_its_own_way(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.csv")
    with path.open(encoding="utf-8-sig", newline="") as file:
        names, *lines = list(csv.reader(file))
    for line in lines:
        line[names.index("rooted")] = str(rooted_of(line[names.index("tray")]))
        line[names.index("dead")] = "1"
    # Semicolons, rows sorted otherwise, small letters.
    lines.sort(key=lambda line: line[1])
    lines[0][1] = lines[0][1].lower()
    path.write_text("\n".join(";".join(line) for line in [names, *lines]), encoding="utf-8")
    assert rl.load_trial(path, plan=plan).fingerprint == by_hand(plan).fingerprint


@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice here")
def test_a_key_that_libreoffice_saved(tmp_path: Path) -> None:
    plan = rl.plan.layout("blocks", {"cultivar": [*ODD[:1], *ODD[3:]]}, blocks=4, stuck=20, seed=3)
    plan.key(tmp_path / "key.csv")
    order = [
        "soffice",
        "--headless",
        "--convert-to",
        "csv",
        "--outdir",
        str(tmp_path / "saved"),
        str(tmp_path / "key.csv"),
    ]
    subprocess.run(order, check=True, timeout=120)
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    assert (
        rl.load_trial(path, plan=tmp_path / "saved" / "key.csv").fingerprint
        == rl.load_trial(path, plan=plan).fingerprint
    )


def test_without_the_plan_a_sheet_stays_blind_and_says_so(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    text = " ".join(str(cell.value) for line in openpyxl.load_workbook(path).active.iter_rows() for cell in line)
    assert "strength" not in text
    assert "2500" not in text
    fill(path)
    with pytest.warns(RootlingWarning, match="This sheet is blind: it holds codes of trays"):
        trial = rl.load_trial(path)
    assert trial.design.n_units == 12
    with pytest.raises(TrialDataError, match=r'the sheet is blind: .*; load it with plan="plan\.json"'):
        rl.load_trial(path, rooted="rooted", stuck="stuck", tray="tray", treatments=["strength"])


def test_a_blank_is_unread_and_never_nought(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path, leave=3)
    trial = rl.load_trial(path, plan=plan)
    assert trial.design.n_units == 9
    assert [(issue.code, issue.row) for issue in trial.set_aside] == [("unread_tray", row) for row in (11, 12, 13)]
    book = openpyxl.load_workbook(path)
    sheet = book.active
    names = [cell.value for cell in sheet[1]]
    sheet.cell(12, names.index("lost") + 1).value = "fell down"
    sheet.delete_rows(13)
    book.save(path)
    trial = rl.load_trial(path, plan=plan)
    assert [issue.code for issue in trial.set_aside] == ["unread_tray", "lost_tray", "unread_tray"]
    # The tray that was left out stands on no row; its code says which it is.
    absent = trial.set_aside[-1]
    assert (absent.row, absent.value) == (None, plan.trays[-1].tray)
    assert absent.reason == f"tray {plan.trays[-1].tray} of the plan is not on the sheet"
    assert "2 rows and 1 tray set aside" in repr(trial)


def test_the_workbook_looks_at_what_is_typed(plan: rl.plan.Layout, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(plan.record_sheet(tmp_path / "sheet.xlsx")).active
    rules = {str(one.sqref).split(":")[0]: one.formula1 for one in sheet.data_validations.dataValidation}
    names = [cell.value for cell in sheet[1]]
    rooted = openpyxl.utils.get_column_letter(names.index("rooted") + 1)
    assert set(rules) == {
        f"{openpyxl.utils.get_column_letter(names.index(name) + 1)}2" for name in ("stuck", "rooted", "dead")
    }
    assert f"{rooted}2=INT(${rooted}2)" in rules[f"{rooted}2"].replace(f"${rooted}2=", f"{rooted}2=")
    assert "<=" in rules[f"{rooted}2"]
    assert [cell.value for cell in sheet["A"][1:]] == [plan.fingerprint] * 12
    with pytest.raises(ReportError, match="may hold counts, so it is left as it is"):
        plan.record_sheet(tmp_path / "sheet.xlsx")


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_formulas_in_texts_come_back_inert_and_unchanged(tmp_path: Path, form: str) -> None:
    plan = rl.plan.layout("blocks", {"=cultivar": ODD}, blocks=["=north", "-south", "@east", "west"], stuck=10, seed=3)
    key = plan.key(tmp_path / f"key.{form}")
    if form == "csv":
        with key.open(encoding="utf-8-sig", newline="") as file:
            cells = [cell for line in csv.reader(file) for cell in line]
        assert not [cell for cell in cells if re.match(r"[=+@-]", cell)]
    else:
        kinds = {cell.data_type for line in openpyxl.load_workbook(key).active.iter_rows() for cell in line}
        assert "f" not in kinds
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    trial = rl.load_trial(path, plan=key)
    assert set(trial.tray_counts()["=cultivar"]) == set(ODD)
    assert set(trial.tray_counts()["block"]) == {"=north", "-south", "@east", "west"}
    assert trial.fingerprint == rl.load_trial(path, plan=plan).fingerprint


def spoiled(path: Path, change: Any) -> Path:
    """A csv with its lines changed."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        lines = list(csv.reader(file))
    change(lines[0], lines[1:])
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(lines)
    return path


def resorted(names: list[str], lines: list[list[str]]) -> None:
    at = names.index("cultivar")
    order = sorted(line[at] for line in lines)
    for line, level in zip(lines, order, strict=True):
        line[at] = level


def mangled(names: list[str], lines: list[list[str]]) -> None:
    at = names.index("cultivar")
    for line in lines:
        line[at] = {"007": "7", "1E5": "100000"}.get(line[at], line[at])


@pytest.mark.parametrize(("change", "rows"), [(resorted, None), (mangled, 8)])
def test_a_key_that_was_changed_is_refused_by_its_rows(tmp_path: Path, change: Any, rows: int | None) -> None:
    plan = rl.plan.layout("blocks", {"cultivar": ["007", "1E5", "K12", "K17"]}, blocks=4, stuck=10, seed=3)
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    with pytest.raises(TrialDataError, match="columns were sorted apart, or a spreadsheet changed an entry") as told:
        rl.load_trial(path, plan=spoiled(plan.key(tmp_path / "key.csv"), change))
    assert {issue.code for issue in told.value.issues} == {"changed_key"}
    assert rows is None or len(told.value.issues) == rows
    # Whole rows may be sorted.
    whole = spoiled(plan.key(tmp_path / "other.csv"), lambda names, lines: lines.sort())
    assert rl.load_trial(path, plan=whole).fingerprint == rl.load_trial(path, plan=plan).fingerprint


def test_sheets_that_do_not_fit_are_refused_with_all_that_is_wrong(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.csv")
    right = plan.trays[1].tray
    wrong = right[0] + right[2] + right[1] + right[3:] if right[1] != right[2] else right[:-1] + "Z"

    def change(names: list[str], lines: list[list[str]]) -> None:
        lines[1][names.index("tray")] = wrong
        lines[2][names.index("bench")] = "9"
        lines[3][names.index("tray")] = lines[4][names.index("tray")]
        lines[5][names.index("plan")] = "ABCDABCDABCD"
        for line in lines:
            line[names.index("rooted")] = "5"

    with pytest.raises(TrialDataError) as told:
        rl.load_trial(spoiled(path, change), plan=plan)
    found = {issue.code: issue.row for issue in told.value.issues}
    assert found["wrong_code"] == 3
    assert found["other_plan"] == 7
    assert found["moved_tray"] in (4, 5)
    assert "its check letter does not fit" in str(told.value)
    assert f"did you mean {right}?" in str(told.value)
    other = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=2)
    with pytest.raises(TrialDataError, match=f"rows 2 to 13, .*the plan given is {other.fingerprint}") as told:
        rl.load_trial(plan.record_sheet(tmp_path / "first.csv"), plan=other)
    assert str(told.value).count("\n") == 1
    assert len(told.value.issues) == 12


def rows_of(plan: rl.plan.Layout, /, **other: list[Any]) -> dict[str, list[Any]]:
    """Columns of a sheet that came back."""
    trays = plan.trays
    counts = {"rooted": [rooted_of(tray.tray) for tray in trays], "dead": [1] * len(trays), "stuck": [20] * len(trays)}
    return {"tray": [tray.tray for tray in trays], **counts, **other}


def test_scanned_labels_are_read_with_both_their_parts(plan: rl.plan.Layout, tmp_path: Path) -> None:
    scanned = pl.read_csv(plan.labels(tmp_path / "labels.csv"))["code"].to_list()
    wanted = by_hand(plan).fingerprint
    assert rl.load_trial(rows_of(plan, tray=scanned), plan=plan).fingerprint == wanted
    small = rows_of(plan, tray=[code.lower() for code in scanned], plan=[plan.fingerprint.lower()] * 12)
    assert rl.load_trial(small, plan=plan).fingerprint == wanted
    with pytest.warns(RootlingWarning, match="This sheet is blind"):
        rl.load_trial(small)
    strange = [code.replace(plan.fingerprint, "ABCDABCDABCD") for code in scanned]
    with pytest.raises(TrialDataError, match=r"rows 1 to 12, .*is of plan 'ABCDABCDABCD'") as told:
        rl.load_trial(rows_of(plan, tray=strange), plan=plan)
    assert {issue.code for issue in told.value.issues} == {"other_plan"}


def test_each_mistake_is_told_once_with_its_rows(plan: rl.plan.Layout) -> None:
    wrong = [tray.tray[:-1] + ("A" if tray.tray[-1] != "A" else "B") for tray in plan.trays]
    with pytest.raises(TrialDataError, match=r"rows 1 to 12, .* and 9 more are no codes of trays") as told:
        rl.load_trial(rows_of(plan, tray=wrong), plan=plan)
    assert str(told.value).count("\n") == 1
    assert len(told.value.issues) == 12


def test_what_the_column_of_losses_says(plan: rl.plan.Layout) -> None:
    with pytest.warns(RootlingWarning, match=r"is called lost and has a count, which is used"):
        rl.load_trial(rows_of(plan, lost=["mice"] + ["no"] * 11), plan=plan)
    blank = rows_of(plan, lost=["mice", "no", "0", *["-"] * 9])
    blank["rooted"][:3] = [None] * 3
    trial = rl.load_trial(blank, plan=plan)
    assert [issue.code for issue in trial.set_aside] == ["lost_tray", "unread_tray", "unread_tray"]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_an_untouched_key_is_taken_whatever_levels_are_called(tmp_path: Path, form: str) -> None:
    names = ["=1+1", "'=2+2", "''-5", " a", "k12 ", "'quoted"]
    plan = rl.plan.layout("blocks", {"cultivar": names}, blocks=4, stuck=20, seed=1)
    trial = rl.load_trial(rows_of(plan), plan=plan.key(tmp_path / f"key.{form}"))
    assert set(trial.tray_counts()["cultivar"]) == set(names)
    assert trial.fingerprint == rl.load_trial(rows_of(plan), plan=plan).fingerprint


def test_strips_that_are_no_units_are_told_of() -> None:
    both = {"dark_days": [0, 21], "strength": [2500, 5000]}
    plan = rl.plan.layout("strip-plot", both, whole_plot="dark_days", blocks=4, stuck=20, seed=2)
    with pytest.warns(
        RootlingWarning, match=r"strength: whole columns .*ask plan\.dealt_anew\(trial, 'strength', \.\.\."
    ):
        rl.load_trial(rows_of(plan), plan=plan)
    with pytest.warns(RootlingWarning, match=r"dark_days: whole rows of a block got one level"):
        trial = rl.load_trial(rows_of(plan), plan=plan, whole_plot="strip")
    assert trial.design.whole_plot_treatments == ("strength",)


def test_counts_that_a_spreadsheet_spoiled_are_told(plan: rl.plan.Layout, tmp_path: Path) -> None:
    def change(names: list[str], lines: list[list[str]]) -> None:
        for line in lines:
            line[names.index("rooted")] = "5"
        lines[3][names.index("rooted")] = "1E5"
        lines[4][names.index("rooted")] = "twelve"

    with pytest.raises(TrialDataError) as told:
        rl.load_trial(spoiled(plan.record_sheet(tmp_path / "sheet.csv"), change), plan=plan)
    assert {issue.row for issue in told.value.issues} == {5, 6}


def test_a_plan_that_was_changed_is_refused(plan: rl.plan.Layout, tmp_path: Path) -> None:
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    record = plan.to_dict()
    first, second = (record["trays"][at]["levels"] for at in (0, 1))
    record["trays"][0]["levels"], record["trays"][1]["levels"] = second, first
    with pytest.raises(rl.RootlingError, match="this record is no plan any more"):
        rl.load_trial(path, plan=record)
    with pytest.raises(rl.RootlingError, match=r"is neither a plan nor its key; write plan=plan"):
        rl.load_trial(path, plan=12)


def test_labels_are_read_by_eye_and_by_camera(plan: rl.plan.Layout, tmp_path: Path) -> None:
    page = plan.labels(tmp_path / "labels.html").read_text(encoding="utf-8")
    assert page.count("<svg") == page.count('class="label"') == 12
    assert all(tray.tray in page for tray in plan.trays)
    assert "2500" not in page
    # Codes are printed large, and squares fill their place.
    assert page.count('<svg viewBox="0 0 ') == 12
    assert page.index(".label p {") < page.index(".label .code { font-size: 7mm")
    labels = pl.read_csv(plan.labels(tmp_path / "labels.csv"))
    assert labels["code"].to_list() == [f"{plan.fingerprint} {tray.tray}" for tray in plan.trays]
    for tray in plan.trays:
        assert re.fullmatch(r"[A-DF-HJ-NP-Z][0-9]{3}[A-DF-HJ-NP-Z]", tray.tray)
    with pytest.raises(ReportError, match=r"does not end in \.html or \.csv"):
        plan.labels(tmp_path / "labels.pdf")
    assert len(plan.write(tmp_path)) == 6


def test_split_plots_come_back_with_their_bays(tmp_path: Path) -> None:
    plan = rl.plan.layout("split-plot", {"dark_days": [0, 21], "strength": [2500, 5000]}, whole_plot="dark_days",
                          blocks=4, trays=8, stuck=20, stock_plants=3, seed=2)  # fmt: skip
    path = plan.record_sheet(tmp_path / "sheet.xlsx")
    fill(path)
    trial = rl.load_trial(path, plan=plan)
    assert trial.design.whole_plot_treatments == ("dark_days",)
    assert {"block", "whole_plot", "stock_plant"} <= set(trial.tray_counts().columns)


def test_readers_who_read_one_level_each_are_told_of(plan: rl.plan.Layout) -> None:
    rows: dict[str, list[Any]] = {"tray": [], "rooted": [], "stuck": [], "reader": []}
    for tray in plan.trays:
        rows["tray"].append(tray.tray)
        rows["rooted"].append(9)
        rows["stuck"].append(20)
        rows["reader"].append("one" if tray.levels == ("2500",) else "two")
    with pytest.warns(RootlingWarning, match="Each reader read one level of strength alone"):
        rl.load_trial(rows, plan=plan)
    rows["reader"] = ["one", "two"] * 6
    if len({(reader, tray.levels) for reader, tray in zip(rows["reader"], plan.trays, strict=True)}) > 2:
        assert rl.load_trial(rows, plan=plan).design.n_units == 12
