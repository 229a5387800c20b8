"""What loading a sheet with its plan has to warn of: readers, strips, trays that are lost and counted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rootling._given import listed, shortened

__all__ = ["cautions"]

Table = Mapping[str, list["str | None"]]
SHOWN = 5


def cautions(table: Table, arguments: Mapping[str, Any], given: Mapping[str, Any]) -> Iterable[str]:
    """A sentence for each thing to mind."""
    yield from _read_apart(table, arguments.get("treatments", ()))
    yield from _strips(table, arguments.get("treatments", ()), given)
    yield from _lost_and_counted(table, given)


def _read_apart(table: Table, treatments: Iterable[str]) -> Iterable[str]:
    """Treatments whose levels were read by different people, each by one alone."""
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


def _strips(table: Table, treatments: Iterable[str], given: Mapping[str, Any]) -> Iterable[str]:
    """Treatments given to whole rows or columns of a strip plot of which the trial knows nothing."""
    if not any(table.get("strip", ())):
        return
    role = listed(given.get("whole_plot")) or ["whole_plot"]
    for place, other, ones in (("strip", "rows", "columns"), ("whole_plot", "columns", "rows")):
        own = [name for name in treatments if _stays(table[place], table[name])]
        if own and place not in role:
            names = " and ".join(own)
            line = 'whole_plot="strip"' if place == "strip" else "whole_plot= left out"
            yield (
                f"{names}: whole {ones} of a block got one level, and this trial takes {other} for whole plots, so "
                f"its comparisons of {names} do not know how {ones} differ and raise false alarms; ask "
                f"plan.dealt_anew(trial, {own[0]!r}, ...), which keeps to both, or load with {line}."
            )


def _stays(places: list[str | None], levels: list[str | None]) -> bool:
    """True where each place has one level, and there are several levels."""
    pairs = set(zip(places, levels, strict=True))
    return len(pairs) == len(set(places)) and len(set(levels)) > 1


def _lost_and_counted(table: Table, given: Mapping[str, Any]) -> Iterable[str]:
    """Trays with a reason why they were lost and with counts, which are used."""
    rooted = table.get(given.get("rooted") or "rooted") or []
    reasons = table.get(given.get("lost") or "lost") or []
    stuck = given.get("stuck")
    stuck = None if isinstance(stuck, int) else table.get(stuck or "stuck")
    counts = [count if stuck is None or stuck[at] not in (None, "0") else None for at, count in enumerate(rooted)]
    lines = zip(table["tray"], counts, reasons, strict=False)
    found = [f"{tray} ({shortened(reason)})" for tray, count, reason in lines if count is not None and reason]
    if found:
        more = f" and {len(found) - SHOWN} more" if len(found) > SHOWN else ""
        one = len(found) == 1
        yield (
            f"Tray{'' if one else 's'} {', '.join(found[:SHOWN])}{more} {'is' if one else 'are'} called lost and "
            f"{'has a count, which is' if one else 'have counts, which are'} used; leave the count blank where a tray "
            "was lost, and the column lost where it was not."
        )
