"""Rows of a result's table as figures take them: with a value, named, and with the trays behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.style import (
    as_text,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from rootling._results import Result


def rows_with_value(result: Result) -> list[dict[str, Any]]:
    rows = [{**row, "value": row.get("value", row.get("odds_ratio"))} for row in result.table().iter_rows(named=True)]
    return [row for row in rows if row["value"] is not None]


def label_columns(result: Result) -> list[str]:
    frame = result.table()
    before = []
    for name in frame.columns:
        if name in ("value", "odds_ratio"):
            break
        before.append(name)
    return [name for name in before if str(frame[name].dtype) == "String" and name not in ("method", "unit")]


def named_of(row: dict[str, Any], names: list[str]) -> str:
    return ", ".join(str(row[name]) for name in names if row[name] not in (None, "")) or "all"


def label_of(row: dict[str, Any], names: list[str]) -> str:
    return as_text(named_of(row, names))


def tray_points(result: Result, names: list[str]) -> dict[str, list[float]]:
    """What is counted of every recorded tray in percent, by label."""
    trial = result._context.get("trial")
    if trial is None or trial.design["unit"] == "pooled cuttings":
        return {}
    frame = trial._counts(outcomes.of(result))
    if any(name not in frame.columns for name in names):
        return {}
    points: dict[str, list[float]] = {}
    for row in frame.iter_rows(named=True):
        points.setdefault(label_of(row, names), []).append(100 * row["rooted"] / row["stuck"])
    return points
