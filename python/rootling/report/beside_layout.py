"""Answers about a planned trial beside its layout: where they are of other trays than it has, they say so."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rootling._results import Result

__all__ = ["apart_of"]

# What answers about trays of each level are of, as a line says it.
PER_LEVEL = ("power", "precision", "trays_needed", "smallest_difference", "looks", "chance_at_end")


def apart_of(result: Result, beside: Sequence[Result]) -> str:
    """That an answer is of other trays than the layout beside it, and what it says of those; else nothing."""
    layout = next((one for one in beside if one.kind == "layout"), None)
    if layout is None or layout is result:
        return ""
    trays, levels = layout._record["n_units"], max(layout._record["n_combinations"], 1)
    if result.kind == "best_strength_plan":
        own = result._record["trays"]
        strengths = len(result._record["layouts"][0]["strengths"])
        known = "" if own == trays else f"This is of {own} trays at {strengths} strengths; the layout has {trays}"
        return f"{known} at {_levels(levels)}." if known else ""
    if result.kind not in PER_LEVEL or trays % levels:
        return ""
    has, own = trays // levels, _trays(result._record)
    if own is None or own == has:
        return ""
    if result.kind == "trays_needed":
        more = "fewer" if has < own else "more"
        return f"The layout has {_each(has)}, {abs(has - own)} {more} than that."
    return f"This is of {_each(own)}; the layout has {has}.{_of_layout(result, has)}"


def _levels(count: int) -> str:
    return f"{count} level{'' if count == 1 else 's'}"


def _each(trays: int) -> str:
    return f"{trays} tray{'' if trays == 1 else 's'} of each level"


def _trays(record: Any) -> int | None:
    """Trays per level that the sentence of an answer is about."""
    rows = [*(record.get("rows") or ()), record]
    # Of looks the last one has all trays.
    own = _lead(record) or rows[max(len(rows) - 2, 0)]
    found = own.get("trays")
    return found if isinstance(found, int) else None


def _lead(record: Any) -> Any:
    at, rows = record.get("lead"), record.get("rows") or ()
    return rows[at] if isinstance(at, int) and 0 <= at < len(rows) else None


def _of_layout(result: Result, has: int) -> str:
    """What the same answer says of as many trays as the layout has, where it was asked of these too."""
    lead = _lead(result._record)
    if lead is None or result.kind != "power":
        return ""
    alike = ("cuttings", "correlation")
    row = next(
        (one for one in result._record["rows"] if one["trays"] == has and all(one[n] == lead[n] for n in alike)), None
    )
    return "" if row is None else f" With {has} a difference shows in {round(100 * row['power'])} of 100 trials."
