"""Means of a response with their limits and every tray beside, and the difference of two."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling._figures.captions import marks
from rootling._figures.rows import label_of, rows_with_value
from rootling._figures.style import FAINT, INK, as_text, limits, look, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

OF = {"stuck": "per cutting", "rooted": "per rooted cutting"}


def in_unit(result: Result) -> str:
    """What an axis of means shows: "roots per cutting", "longest per rooted cutting, cm"."""
    response = result.to_dict()["response"]
    unit = "" if response["unit"] is None else f", {response['unit']}"
    return as_text(f"{response['column'].replace('_', ' ')} {OF[result.mean_of]}{unit}")


def trays_by(result: Result, names: list[str]) -> dict[str, list[float]]:
    """The mean of every recorded tray, by label."""
    trial = result._context.get("trial")
    if trial is None:
        return {}
    record = result.to_dict()
    column, frame = record["response"]["column"], trial.tray_counts()
    if any(name not in frame.columns for name in (*names, column)):
        return {}
    points: dict[str, list[float]] = {}
    for row in frame.iter_rows(named=True):
        mean = row[column]
        if record["mean_of"] == "stuck":
            mean = 0.0 if row["rooted"] == 0 else mean if mean is None else mean * row["rooted"] / row["stuck"]
        if mean is not None:
            points.setdefault(label_of(row, names), []).append(mean)
    return points


def _told(result: Result) -> str:
    trays = "; open marks: single trays" if result._context.get("trial") is not None else ""
    return f"Filled marks and bars: means with {{of}}intervals{trays}."


@marks(_told)
def means(result: Result) -> Figure:
    """Means with limits, one row below the other, and every tray as an open mark."""
    rows, names = rows_with_value(result), list(result.to_dict()["by"])
    trays = trays_by(result, names)
    labels = [label_of(row, names) for row in rows]
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 5.0 + 0.075 * longest), 1.5 + 0.5 * len(rows))
    for at, (row, label) in enumerate(zip(rows, labels, strict=True)):
        low, high = limits(row)
        axes.plot([low, high], [at, at], color=look(0)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([row["value"]], [at], markersize=8, linestyle="none", **look(0))
        points = trays.get(label, [])
        axes.plot(points, [at + 0.24] * len(points), "o", markersize=5, color=FAINT, fillstyle="none")
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(left=0)
    axes.set_xlabel(in_unit(result), color=INK)
    return figure


@marks("Marks: means of both levels, then second minus first; lines: {of}intervals; dashed: no difference.")
def comparison(result: Result) -> Figure:
    """Both means and their difference with limits, against no difference."""
    rows = rows_with_value(result)
    name = result.table().columns[0]
    labels = [as_text(str(row[name])) for row in rows]
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 5.0 + 0.075 * longest), 1.5 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        low, high = limits(row)
        axes.plot([low, high], [at, at], color=look(at)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([row["value"]], [at], markersize=8, linestyle="none", **look(at))
    axes.axvline(0, color=INK, linewidth=1, linestyle="--", zorder=1)
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlabel(in_unit(result), color=INK)
    axes.margins(x=0.08)
    return figure
