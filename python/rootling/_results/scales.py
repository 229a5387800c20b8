"""How the numbers of a table are written: a scale takes a column and its row, and gives the writer of that number.

Each kind of result names the scale of its table; what columns of one name are in every kind stands in :func:`writer`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any

from rootling._words import numbers, outcomes

Row = dict[str, Any]
Writer = Callable[[float], str]
Scale = Callable[[str, Row], Writer]

SPREAD = ("value", "se", "low", "high")
RATES = (
    "rate",
    "take_rate",
    "margin",
    "typical_tray",
    "take",
    "take_low",
    "take_high",
    "rise",
    "deaths_at_lowest",
    "deaths_at_highest",
)
SIZES = ("largest_difference", "not_ruled_out")
CHANGES = ("one_step_change", "refit_change")


def writer(scale: Scale, column: str, row: Row) -> Writer:
    """How a number of the table is written: by its column where that says it, else by the scale of its kind."""
    if column == "confidence":
        return numbers.confidence
    if column in ("df", "error_df"):
        return numbers.degrees
    if column in RATES:
        return numbers.percent
    if column in CHANGES:
        return numbers.points
    return scale(column, row)


def plain(column: str, row: Row) -> Writer:
    """Numbers as they are."""
    return numbers.plain


def of_rates(column: str, row: Row) -> Writer:
    """Values are rates."""
    return numbers.percent if column in SPREAD else numbers.plain


def of_differences(column: str, row: Row) -> Writer:
    """Values are differences of rates."""
    if column not in SPREAD:
        return numbers.plain
    return numbers.size if column == "se" else numbers.points


def of_lines(column: str, row: Row) -> Writer:
    """Each line says what its value is: a rate, a difference of rates, or another number."""
    what = str(row.get("what", row.get("measure", ""))) if column in SPREAD else ""
    if what.startswith(_rate_lines()):
        return numbers.percent
    return numbers.points if what.startswith("difference") else numbers.plain


@cache
def _rate_lines() -> tuple[str, ...]:
    """How lines of rates begin, whatever was counted."""
    return tuple(f"{outcomes.words(outcome)['rate']} at " for outcome in outcomes.ALL)


def of_effects(column: str, row: Row) -> Writer:
    """Effects have a size, either way."""
    return numbers.size if column in SIZES else numbers.plain


def of_contrasts(column: str, row: Row) -> Writer:
    """Values are differences of rates where they have a standard error, else ratios."""
    if "se" not in row:
        return numbers.plain
    return numbers.size if column in SIZES else of_differences(column, row)


def of_strengths(column: str, row: Row) -> Writer:
    """Values are strengths."""
    return numbers.percent if column == "width_ratio" else numbers.strength


def of_wanted(column: str, row: Row) -> Writer:
    """Values are strengths, the highest of which may never reach what is wanted."""
    if column == "high" and row[column] == math.inf and "never reached" in str(row["says"]):
        return lambda value: "or never reached"
    return of_strengths(column, row)
