"""Rows of a sheet that cannot be those of its plan: each mistake told once, with all its rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise

from rootling import _core
from rootling._given import nearest, shortened
from rootling._loading.rows import Sheet
from rootling._words import as_it_was
from rootling.exceptions import Issue, TrialDataError

__all__ = ["codes_of", "misfits", "stop"]

# Lines of a message, mistakes of a kind that are told one by one, and trays that are named.
SHOWN = 20
APART = 3
# Letters of a plan, and signs of a tray, on a label.
PLAN, TRAY = 12, 5
TOGETHER = {
    "wrong_code": ("{values} are no codes of trays: their check letters do not fit", "read the labels again"),
    "unknown_tray": (
        "the plan has no trays {values}",
        "give the sheet and the plan that belong together",
    ),
    "changed_key": ("these lines of the key are not as they were written", ""),
    "moved_tray": ("trays stand at another {column} than in the plan", ""),
    "tray_twice": ("trays {values} stand in other rows too", "leave one row of each"),
}


def codes_of(sheet: Sheet) -> list[str | None]:
    """The codes of the trays, typed or scanned; None for what is none."""
    return [_read(text)[1] for text in sheet.columns["tray"]]


def _signs(written: str) -> str:
    return "".join(written.split()).replace("-", "").upper()


def _read(written: str) -> tuple[str, str | None]:
    """Letters of the plan, where a label was scanned, and the code of its tray."""
    signs = _signs(written)
    scanned = len(signs) == PLAN + TRAY
    plan = signs[:PLAN] if scanned else ""
    return plan, _core.layout.tray_code(signs[PLAN:] if scanned else written)


def misfits(
    sheet: Sheet, plan: str, trays: Mapping[str, Mapping[str, str]], codes: list[str | None]
) -> Iterable[Issue]:
    """Every row that cannot be one of this plan."""
    together = "give the sheet and the plan that belong together"
    seen: dict[str, int] = {}
    written_plans = sheet.columns.get("plan", [""] * len(codes))
    for at, (row, code, own) in enumerate(zip(sheet.numbers, codes, written_plans, strict=True)):
        written = sheet.columns["tray"][at]
        scanned = _read(written)[0] if code else ""
        others = [(name, one) for name, one in (("plan", own), ("tray", scanned)) if one and _signs(one) != plan]
        if others:
            name, other = others[0]
            reason = f"this row is of plan {shortened(other)}, and the plan given is {plan}"
            yield _issue("other_plan", row, name, other, reason, together)
        elif code is None:
            near = nearest(_signs(written)[-TRAY:], trays)
            reason = f"{shortened(written)} is no code of a tray: its check letter does not fit"
            hint = f"did you mean {near}? Read the label again" if near else "read the label again"
            yield _issue("wrong_code", row, "tray", written, reason, hint)
        elif code not in trays:
            yield _issue("unknown_tray", row, "tray", written, f"the plan {plan} has no tray {code}", together)
        elif code in seen:
            reason = f"tray {code} stands in row {seen[code]} too"
            yield _issue("tray_twice", row, "tray", written, reason, "leave one of the two rows")
        else:
            seen[code] = row
            yield from _moved(sheet, trays[code], at, code)


def _moved(sheet: Sheet, tray: Mapping[str, str], at: int, code: str) -> Iterable[Issue]:
    """A place on the sheet that is not that of the code beside it."""
    for name in ("bench", "row", "column", "block", "whole_plot", "strip"):
        found = as_it_was(sheet.columns[name][at]) if name in sheet.columns else ""
        if found and found not in (tray[name], tray[name].strip(), as_it_was(tray[name].strip())):
            reason = f"tray {code} stands at {name} {shortened(tray[name])} in the plan"
            hint = "columns were sorted apart, or an entry was changed; sort whole rows, or take the sheet as it was"
            yield _issue("moved_tray", sheet.numbers[at], name, found, reason, hint)
            return


def _issue(code: str, row: int, column: str, value: str, reason: str, hint: str) -> Issue:
    return Issue(code, row=row, column=column, value=value, reason=reason, hint=hint)


def stop(issues: list[Issue]) -> None:
    """Refuses a sheet with such issues."""
    if not issues:
        return
    alike: dict[tuple[str, str | None, str], list[Issue]] = {}
    for issue in issues:
        same = "" if issue.code in TOGETHER else issue.reason
        alike.setdefault((issue.code, issue.column, same), []).append(issue)
    lines = [line for group in alike.values() for line in _told(group)]
    if len(lines) > SHOWN:
        lines = [*lines[:SHOWN], f"and {len(lines) - SHOWN} more of the kind"]
    head = f"{len(issues)} problem{'s' if len(issues) > 1 else ''} in the sheet:"
    raise TrialDataError("\n".join([head, *(f"  {line}" for line in lines)]), issues)


def _told(group: list[Issue]) -> list[str]:
    """A line for each of a few, one for many."""
    first = group[0]
    same = len({(issue.reason, issue.hint) for issue in group}) == 1
    if len(group) == 1 or (len(group) <= APART and not same):
        return [str(issue) for issue in group]
    reason, hint = (first.reason, "") if same else TOGETHER[first.code]
    values = [str(issue.value) for issue in group]
    named = ", ".join(map(shortened, values[:APART])) + (f" and {len(values) - APART} more" * (len(values) > APART))
    place = f'{_rows([issue.row or 0 for issue in group])}, column "{first.column}"'
    told = Issue(
        first.code,
        reason=reason if same else reason.format(values=named, column=first.column),
        hint=hint or first.hint,
    )
    return [f"{place if first.column else _rows([issue.row or 0 for issue in group])}: {told}"]


def _rows(numbers: list[int]) -> str:
    """Rows by number, those that follow each other as from first to last.

    >>> _rows([2, 3, 4, 7])
    'rows 2 to 4, 7'
    """
    numbers = sorted(numbers)
    breaks = [0, *(at for at, (one, after) in enumerate(pairwise(numbers), start=1) if after > one + 1), len(numbers)]
    runs = [numbers[start:end] for start, end in pairwise(breaks)]
    told = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    more = f" and {len(told) - SHOWN} more" if len(told) > SHOWN else ""
    return f"rows {', '.join(told[:SHOWN])}{more}"
