"""A sheet that comes back, joined with its plan by the codes of its trays."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from rootling import _core, _frames
from rootling._given import has_columns, shortened
from rootling._loading.misfits import codes_of, misfits, stop
from rootling._loading.rows import Sheet, read_rows
from rootling._results import Result
from rootling._words import as_it_was
from rootling.exceptions import ChoiceError, Issue, TrialDataError

__all__ = ["BLIND", "blind_sheet", "joined"]

PLACES = ("replicate", "block", "whole_plot", "strip")
OWN = ("plan", "tray", "bench", "row", "column", *PLACES, "stock_plant", "reader", "seal")
BLIND = (
    "This sheet is blind: it holds codes of trays and not what they got, so no treatment can be asked about. "
    "Load it with plan= (the plan, its record or its key)."
)
UNREAD = "not read"
# What somebody writes in the column of losses where nothing was lost.
NOT_LOST = ("no", "n", "none", "false", "0", "-")
# What a cell of a key may have become: texts of a csv file are inert, those of a workbook are not, spaces may be gone.
BROUGHT_BACK: tuple[Callable[[str], str], ...] = (as_it_was, str, lambda text: as_it_was(text.strip()), str.strip)


class Key:
    """What a plan says of each tray, by its code."""

    def __init__(self, plan: str, treatments: list[str], trays: dict[str, dict[str, str]]) -> None:
        self.plan, self.treatments, self.trays = plan, treatments, trays

    def has(self, name: str) -> bool:
        """True where trays have something of this name."""
        return any(tray[name] for tray in self.trays.values())


def key_of(plan: Any) -> Key:
    """The key of a plan, of its record, or of a file of either."""
    if isinstance(plan, Result) and plan.kind == "layout":
        return _of_plan(plan)
    if isinstance(plan, Mapping) and plan.get("kind") == "layout":
        return _of_record(plan)
    if isinstance(plan, (str, os.PathLike)) and Path(plan).suffix.lower() == ".json":
        return _of_file(Path(plan))
    named = isinstance(plan, (str, os.PathLike)) and Path(plan).suffix.lower() in (".csv", ".xlsx", ".tsv", ".txt")
    if named or (isinstance(plan, Mapping) and "seal" in plan) or has_columns(plan):
        return _of_key(read_rows(plan, ["tray", "plan", "seal"], exact=True))
    line = 'plan=plan, or plan="plan.json", or plan="key.csv"'
    raise ChoiceError(f"plan={shortened(plan)} is neither a plan nor its key; write {line}")


def _of_file(path: Path) -> Key:
    try:
        return _of_record(Result.from_json(path.read_text(encoding="utf-8")))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TrialDataError.of_input("no_file", f"{path.name!r} cannot be read ({reason})", "check the path") from None


def _of_record(record: Any) -> Key:
    plan = record if isinstance(record, Result) else Result.from_dict(record)
    if plan.kind != "layout":
        raise ChoiceError("plan= is the record of something else; give what rl.plan.layout made")
    return _of_plan(plan)


def _of_plan(plan: Any) -> Key:
    record = plan.to_dict()
    plan._check()
    treatments = [one["name"] for one in record["options"]["treatments"]]
    trays = {}
    for tray in record["trays"]:
        told = {name: "" if tray.get(name) is None else str(tray[name]) for name in OWN if name != "plan"}
        trays[tray["tray"]] = told | dict(zip(treatments, tray["levels"], strict=True))
    return Key(record["fingerprint"], treatments, trays)


def _of_key(sheet: Sheet) -> Key:
    """A key that was written down: each line has to go with its seal, so columns that were sorted apart show."""
    columns = {as_it_was(name): texts for name, texts in sheet.columns.items()}
    columns = {name.strip() if name.strip() in OWN else name: texts for name, texts in columns.items()}
    missing = [name for name in OWN if name not in columns]
    if missing:
        reason = f"the key has no column {missing[0]!r}"
        raise TrialDataError.of_input("no_key", reason, "give the key as plan.key wrote it", column=missing[0])
    treatments = [name for name in columns if name not in OWN]
    lines = [dict(zip(columns, line, strict=True)) for line in zip(*columns.values(), strict=True)]
    order = [name for name in OWN[2:] if name not in ("stock_plant", "reader", "seal")]
    order += [*treatments, "stock_plant", "reader"]
    issues = []
    for at, (row, line) in enumerate(zip(sheet.numbers, lines, strict=True)):
        right = _sealed(line, order)
        if right is not None:
            lines[at] = right
        else:
            reason = f"this line of the key is not as it was written for tray {shortened(line['tray'])}"
            hint = (
                "columns were sorted apart, or a spreadsheet changed an entry such as 007 into 7 or 1E5 into 100000; "
                "give the key as plan.key wrote it, or the plan itself"
            )
            issues.append(Issue("changed_key", row=row, reason=reason, hint=hint))
    stop(issues)
    plans = {line["plan"] for line in lines}
    if len(plans) != 1:
        raise TrialDataError.of_input("several_plans", f"the key holds {len(plans)} plans", "give the key of one")
    return Key(plans.pop(), treatments, {line["tray"]: line for line in lines})


def _sealed(line: Mapping[str, str], order: list[str]) -> dict[str, str] | None:
    """The entries of a line as its seal knows them; None where it knows none such."""
    for back in BROUGHT_BACK:
        told = {name: text.strip() if name in ("plan", "tray", "seal") else back(text) for name, text in line.items()}
        if told["seal"] == _core.layout.seal(told["plan"], told["tray"], [told[name] for name in order]):
            return told
    return None


def joined(data: Any, plan: Any, given: Mapping[str, Any]) -> tuple[dict[str, list[str | None]], dict[str, Any], str]:
    """Columns of sheet and plan, the arguments of a trial that follow, and where rows are counted from.

    Parameters
    ----------
    data
        The record sheet, whatever holds it.
    plan
        A plan, its record, its key, or a file of one of these.
    given : mapping
        What the caller said; it goes before what the plan says.

    Raises
    ------
    TrialDataError
        For rows of another plan, codes that are none, places that do not go with their codes, trays that stand twice.
    """
    key = key_of(plan)
    sheet = read_rows(data, ["tray"], given.get("sheet"), given.get("encoding"))
    if "tray" not in sheet.columns:
        reason = "the sheet has no column 'tray'"
        raise TrialDataError.of_input("no_tray_column", reason, "give the record sheet of the plan", column="tray")
    codes = codes_of(sheet)
    stop(list(misfits(sheet, key.plan, key.trays, codes)))
    own = [key.trays[code or ""] for code in codes]
    roles = ["tray", *(name for name in (*PLACES, "stock_plant") if key.has(name)), *key.treatments]
    table: dict[str, list[str | None]] = {name: [tray[name] for tray in own] for name in roles}
    for name, texts in sheet.columns.items():
        if name not in table and name != "plan":
            table[name] = [as_it_was(text) or None for text in texts]
    absent = [code for code in key.trays if code not in set(codes)]
    _add_absent(table, key, roles, absent)
    _mark_unread(table, given, absent)
    return table, _arguments(table, key, given), sheet.source


def _add_absent(table: dict[str, list[str | None]], key: Key, roles: list[str], absent: list[str]) -> None:
    """Trays that the sheet leaves out stand at its end, unread."""
    for name, cells in table.items():
        cells.extend(key.trays[code][name] if name in roles else None for code in absent)


def _mark_unread(table: dict[str, list[str | None]], given: Mapping[str, Any], absent: list[str]) -> None:
    """A blank count is a tray that was not read, unless the sheet says why it was lost."""
    rooted = table.get(given.get("rooted") or "rooted")
    lost = given.get("lost") or "lost"
    reasons = [None if (one or "").lower() in NOT_LOST else one for one in table.get(lost, ())]
    if lost in table:
        table[lost] = [*reasons]
    if rooted is None or all(rooted):
        return
    reasons = reasons or [None] * len(rooted)
    first = len(rooted) - len(absent)
    unread = [UNREAD] * first + [f"{UNREAD}: {code}" for code in absent]
    table[lost] = [
        told if count is None and reason is None else reason
        for count, reason, told in zip(rooted, reasons, unread, strict=True)
    ]


def _arguments(table: Mapping[str, list[str | None]], key: Key, given: Mapping[str, Any]) -> dict[str, Any]:
    """What the caller did not say and the plan knows."""
    plan: dict[str, Any] = {"rooted": "rooted", "treatments": key.treatments, "tray": "tray"}
    plan |= {name: name for name in ("block", "whole_plot", "stock_plant", "lost") if any(table.get(name, ()))}
    if given.get("stuck") is None and "stuck" in table:
        plan["stuck"] = "stuck"
    if any(table.get("dead", ())):
        plan["dead"] = "dead"
    return {name: value for name, value in plan.items() if given.get(name) in (None, (), [])}


def blind_sheet(data: Any, given: Mapping[str, Any]) -> set[str] | None:
    """The columns of a record sheet; None of anything else."""
    engine = _frames.engine_of(data)
    if engine is not None and not {"plan", "tray"} <= set(engine.names()):
        return None
    try:
        found = read_rows(data, ["tray"], given.get("sheet"), given.get("encoding"))
    except (TrialDataError, ChoiceError):
        return None
    coded = "tray" in found.columns and any(codes_of(found))
    return set(found.columns) if "plan" in found.columns and coded else None
