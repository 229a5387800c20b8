"""A sheet that comes back, joined with its plan by the codes of its trays; all that does not fit is told at once."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from rootling import _core
from rootling._given import has_columns, nearest, shortened
from rootling._loading.rows import Sheet, read_rows
from rootling._words import as_it_was
from rootling.exceptions import ChoiceError, Issue, TrialDataError
from rootling.plan import Layout

__all__ = ["BLIND", "blind_sheet", "joined", "read_apart"]

PLACES = ("replicate", "block", "whole_plot", "strip")
OWN = ("plan", "tray", "bench", "row", "column", *PLACES, "stock_plant", "reader", "seal")
SHOWN = 20
BLIND = (
    "This sheet is blind: it holds codes of trays and not what they got, so no treatment can be asked about. "
    "Load it with plan= (the plan, its record or its key)."
)
UNREAD = "not read"


class Key:
    """What a plan says of each tray, by its code."""

    def __init__(self, plan: str, treatments: list[str], trays: dict[str, dict[str, str]]) -> None:
        self.plan, self.treatments, self.trays = plan, treatments, trays

    def has(self, name: str) -> bool:
        """True where trays have something of this name."""
        return any(tray[name] for tray in self.trays.values())


def key_of(plan: Any) -> Key:
    """The key of a plan, of its record, or of a file of either."""
    if isinstance(plan, Layout):
        return _of_plan(plan)
    if isinstance(plan, Mapping) and plan.get("kind") == "layout":
        return _of_record(plan)
    if isinstance(plan, (str, os.PathLike)) and Path(plan).suffix.lower() == ".json":
        return _of_file(Path(plan))
    named = isinstance(plan, (str, os.PathLike)) and Path(plan).suffix.lower() in (".csv", ".xlsx", ".tsv", ".txt")
    if named or (isinstance(plan, Mapping) and "seal" in plan) or has_columns(plan):
        return _of_key(read_rows(plan, ["tray", "plan", "seal"]))
    line = 'plan=plan, or plan="plan.json", or plan="key.csv"'
    raise ChoiceError(f"plan={shortened(plan)} is neither a plan nor its key; write {line}")


def _of_file(path: Path) -> Key:
    try:
        return _of_record(Layout.from_json(path.read_text(encoding="utf-8")))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TrialDataError.of_input("no_file", f"{path.name!r} cannot be read ({reason})", "check the path") from None


def _of_record(record: Any) -> Key:
    plan = record if isinstance(record, Layout) else Layout.from_dict(record)
    if not isinstance(plan, Layout):
        raise ChoiceError("plan= is the record of something else; give what rl.plan.layout made")
    return _of_plan(plan)


def _of_plan(plan: Layout) -> Key:
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
    columns = {as_it_was(name): [as_it_was(text) for text in texts] for name, texts in sheet.columns.items()}
    missing = [name for name in OWN if name not in columns]
    if missing:
        reason = f"the key has no column {missing[0]!r}"
        raise TrialDataError.of_input("no_key", reason, "give the key as plan.key wrote it", column=missing[0])
    treatments = [name for name in columns if name not in OWN]
    lines = [dict(zip(columns, line, strict=True)) for line in zip(*columns.values(), strict=True)]
    order = [name for name in OWN[2:] if name not in ("stock_plant", "reader", "seal")]
    order += [*treatments, "stock_plant", "reader"]
    plans = {line["plan"] for line in lines}
    issues = []
    for row, line in zip(sheet.numbers, lines, strict=True):
        if line["seal"] != _core.layout.seal(line["plan"], line["tray"], [line[name] for name in order]):
            reason = f"this line of the key is not as it was written for tray {shortened(line['tray'])}"
            hint = (
                "columns were sorted apart, or a spreadsheet changed an entry such as 007 into 7 or 1E5 into 100000; "
                "give the key as plan.key wrote it, or the plan itself"
            )
            issues.append(Issue("changed_key", row=row, reason=reason, hint=hint))
    _stop(issues)
    if len(plans) != 1:
        raise TrialDataError.of_input("several_plans", f"the key holds {len(plans)} plans", "give the key of one")
    return Key(plans.pop(), treatments, {line["tray"]: line for line in lines})


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
    codes = [_core.layout.tray_code(text) for text in sheet.columns["tray"]]
    _stop(list(_misfits(sheet, key, codes)))
    own = [key.trays[code or ""] for code in codes]
    roles = ["tray", *(name for name in (*PLACES, "stock_plant") if key.has(name)), *key.treatments]
    table: dict[str, list[str | None]] = {name: [tray[name] for tray in own] for name in roles}
    for name, texts in sheet.columns.items():
        if name not in table and name != "plan":
            table[name] = [as_it_was(text) or None for text in texts]
    absent = [code for code in key.trays if code not in set(codes)]
    _add_absent(table, key, roles, absent)
    _mark_unread(table, given)
    return table, _arguments(table, key, given), sheet.source


def _misfits(sheet: Sheet, key: Key, codes: list[str | None]) -> Iterable[Issue]:
    """Every row that cannot be one of this plan."""
    seen: dict[str, int] = {}
    plans = sheet.columns.get("plan", [""] * len(codes))
    for at, (row, code, plan) in enumerate(zip(sheet.numbers, codes, plans, strict=True)):
        written = sheet.columns["tray"][at]
        if plan and plan != key.plan:
            yield _issue(
                "other_plan", row, "plan", plan,
                f"this row is of plan {shortened(plan)}, and the plan given is {key.plan}",
                "give the sheet and the plan that belong together",
            )  # fmt: skip
        elif code is None:
            near = nearest(written.upper(), key.trays)
            ask = f"did you mean {near}? " if near else ""
            reason = f"{shortened(written)} is no code of a tray: its check letter does not fit"
            yield _issue(
                "wrong_code",
                row,
                "tray",
                written,
                reason,
                f"{ask}Read the label again" if ask else "read the label again",
            )
        elif code not in key.trays:
            reason = f"the plan {key.plan} has no tray {code}"
            yield _issue(
                "unknown_tray", row, "tray", written, reason, "give the sheet and the plan that belong together"
            )
        elif code in seen:
            reason = f"tray {code} stands in row {seen[code]} too"
            yield _issue("tray_twice", row, "tray", written, reason, "leave one of the two rows")
        else:
            seen[code] = row
            yield from _moved(sheet, key, at, code)


def _moved(sheet: Sheet, key: Key, at: int, code: str) -> Iterable[Issue]:
    """A place on the sheet that is not that of the code beside it."""
    for name in ("bench", "row", "column", "block", "whole_plot", "strip"):
        found = as_it_was(sheet.columns[name][at]) if name in sheet.columns else ""
        if found and found != key.trays[code][name]:
            reason = f"tray {code} stands at {name} {shortened(key.trays[code][name])} in the plan"
            hint = "columns were sorted apart, or an entry was changed; sort whole rows, or take the sheet as it was"
            yield _issue("moved_tray", sheet.numbers[at], name, found, reason, hint)
            return


def _issue(code: str, row: int, column: str, value: str, reason: str, hint: str) -> Issue:
    return Issue(code, row=row, column=column, value=value, reason=reason, hint=hint)


def _stop(issues: list[Issue]) -> None:
    if not issues:
        return
    lines = [f"  {issue}" for issue in issues[:SHOWN]]
    if len(issues) > SHOWN:
        lines.append(f"  and {len(issues) - SHOWN} more of the kind")
    head = f"{len(issues)} problem{'s' if len(issues) > 1 else ''} in the sheet:"
    raise TrialDataError("\n".join([head, *lines]), issues)


def _add_absent(table: dict[str, list[str | None]], key: Key, roles: list[str], absent: list[str]) -> None:
    """Trays that the sheet leaves out stand at its end, unread."""
    for name, cells in table.items():
        cells.extend(key.trays[code][name] if name in roles else None for code in absent)


def _mark_unread(table: dict[str, list[str | None]], given: Mapping[str, Any]) -> None:
    """A blank count is a tray that was not read, unless the sheet says why it was lost."""
    rooted = table.get(given.get("rooted") or "rooted")
    lost = given.get("lost") or "lost"
    if rooted is None or all(rooted):
        return
    reasons = table.get(lost, [None] * len(rooted))
    table[lost] = [
        UNREAD if count is None and reason is None else reason for count, reason in zip(rooted, reasons, strict=True)
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


def read_apart(table: Mapping[str, list[str | None]], treatments: Iterable[str]) -> Iterable[str]:
    """A sentence for each treatment whose levels were read by different people, each by one alone."""
    readers = table.get("reader") or []
    for name in treatments:
        levels: dict[str, set[str | None]] = {}
        for reader, level in zip(readers, table[name], strict=False):
            if reader:
                levels.setdefault(reader, set()).add(level)
        if len(set().union(*levels.values())) > 1 and all(len(own) == 1 for own in levels.values()):
            yield (
                f"Each reader read one level of {name} alone, so a difference between levels may just as well be one "
                "between readers; let every reader read every level."
            )


def blind_sheet(data: Any, given: Mapping[str, Any]) -> set[str] | None:
    """The columns of a record sheet; None of anything else."""
    try:
        found = read_rows(data, ["tray"], given.get("sheet"), given.get("encoding"))
    except (TrialDataError, ChoiceError):
        return None
    coded = any(_core.layout.tray_code(cell) for cell in found.columns.get("tray", []))
    return set(found.columns) if "plan" in found.columns and coded else None
