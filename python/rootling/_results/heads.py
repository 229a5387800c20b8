"""Heads of the columns of a table that depend on what was counted, and on what the units are."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from rootling._words import outcomes

if TYPE_CHECKING:
    from rootling._results.result import Result

Heads = Callable[["Result"], dict[str, str]]


def common(result: Result) -> dict[str, str]:
    """Heads that every kind has."""
    said = outcomes.words_of(result)
    units = _units(result)
    return {
        "n_units": outcomes.plural(outcomes.called_of(result)),
        "rooted": said["counted_head"],
        "stuck": said["stuck_head"],
        "n_units_second": f"{units} of second",
        "n_units_first": f"{units} of first",
    }


def usual(result: Result) -> dict[str, str]:
    """Nothing beside what every kind has."""
    return {}


def of_units(result: Result) -> dict[str, str]:
    """Rates count the units that carry them; a model's are those that it was fitted to."""
    return {"n_units": _units(result)}


def _units(result: Result) -> str:
    unit = result._record.get("unit")
    return outcomes.plural(unit) if isinstance(unit, str) and unit not in ("", "cutting") else "trays"
