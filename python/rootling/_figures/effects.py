"""What a model says of its effects: odds ratios, coefficients, and how much each effect matters."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.differences import difference_words
from rootling._figures.rows import label_columns, named_of, rows_with_value
from rootling._figures.style import (
    COLOURS,
    INK,
    as_text,
    in_lines,
    look,
    one_panel,
)
from rootling._words import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


def _ratios_told(result: Result) -> str:
    rows = [row for row in rows_with_value(result) if row["value"] > 0 and math.isfinite(row["value"])]
    ends = [_ratio_limits(row) for row in rows]
    arrows = "; arrows: no limit on that side" if any(low <= 0 or math.isinf(high) for low, high in ends) else ""
    return f"Marks: odds ratios on a log axis; lines: {{of}}intervals{arrows}; dashed: no effect."


@marks(_ratios_told)
def odds_ratios(result: Result) -> Figure:
    """Odds ratios with intervals on a log axis, against 1."""
    rows = [row for row in rows_with_value(result) if row["value"] > 0 and math.isfinite(row["value"])]
    figure, axes = _against(result, [_ratio_limits(row) for row in rows], rows, 1.0)
    axes.set_xlabel("odds ratio (log axis)", color=INK)
    return figure


def _coefficients_told(result: Result) -> str:
    rows = [row for row in rows_with_value(result) if row["coefficient"] != "intercept" and math.isfinite(row["value"])]
    ends = [_coefficient_limits(row) for row in rows]
    arrows = "; arrows: no limit on that side" if any(map(math.isinf, (end for pair in ends for end in pair))) else ""
    return f"Marks: coefficients; lines: {{of}}intervals{arrows}; dashed: no effect."


@marks(_coefficients_told)
def coefficients(result: Result) -> Figure:
    """Coefficients other than the intercept with intervals, against 0."""
    rows = [row for row in rows_with_value(result) if row["coefficient"] != "intercept" and math.isfinite(row["value"])]
    ends = [_coefficient_limits(row) for row in rows]
    figure, axes = _against(result, ends, rows, 0.0)
    axes.set_xlabel(f"coefficient on the {result.numbers['link']} scale", color=INK)
    return figure


def _matters_told(result: Result) -> str:
    rows = [row for row in result.table().iter_rows(named=True) if row["largest_difference"] is not None]
    beyond = any(row["not_ruled_out"] is not None for row in rows)
    dotted = "; dotted lines to bars: larger ones that are not ruled out" if beyond else ""
    return f"Marks: largest difference between {{rates}} of each effect, with its P value{dotted}."


@marks(_matters_told)
def what_matters(result: Result) -> Figure:
    """Largest difference between the rates of each effect, and how large a one is not ruled out."""
    rows = [row for row in result.table().iter_rows(named=True) if row["largest_difference"] is not None]
    figure, axes = one_panel(7.0, 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        value = 100 * row["largest_difference"]
        beyond = None if row["not_ruled_out"] is None else 100 * row["not_ruled_out"]
        if beyond is not None:
            axes.plot([value, beyond], [at, at], color=COLOURS[0], linewidth=2, linestyle=":")
            axes.plot([beyond], [at], color=COLOURS[0], marker="|", markersize=12, markeredgewidth=2)
        axes.plot([value], [at], markersize=8, linestyle="none", **look(0))
        told = "not tested" if row["p"] is None else f"P = {numbers.written(row['p'], 'p')}".replace("= <", "<")
        axes.annotate(told, (value, at), xytext=(0, 9), textcoords="offset points", ha="center", fontsize=8, color=INK)
    axes.set_yticks(range(len(rows)), [as_text(row["effect"]) for row in rows])
    axes.set_ylim(len(rows) - 0.5, -0.8)
    axes.set_xlim(left=0)
    axes.margins(x=0.12)
    axes.set_xlabel(f"largest {difference_words(result)} (bar: not ruled out)", color=INK)
    return figure


def _ratio_limits(row: dict[str, Any]) -> tuple[float, float]:
    """Limits of a ratio; a missing one is no bound at all, unless nothing could be said (then there is no line)."""
    low, high = row.get("low"), row.get("high")
    if low is None and high is None:
        return row["value"], row["value"]
    return (0.0 if low is None else low), (math.inf if high is None else high)


def _coefficient_limits(row: dict[str, Any]) -> tuple[float, float]:
    """Limits of a coefficient; a missing one is no bound, unless nothing could be said (then there is no line)."""
    low, high = row["low"], row["high"]
    if row["p"] is None:
        return row["value"], row["value"]
    return (-math.inf if low is None else low), (math.inf if high is None else high)


def _against(
    result: Result, ends: list[tuple[float, float]], rows: list[dict[str, Any]], none: float
) -> tuple[Figure, Axes]:
    """Estimates with intervals against the value of no effect; an open end is an arrow, and the bound then is all."""
    from rootling._figures.ticks import ratio_axis

    names = label_columns(result)
    labels = [in_lines(named_of(row, names)) for row in rows]
    longest = max((len(line) for label in labels for line in label.split("\n")), default=0)
    lines = max((label.count("\n") for label in labels), default=0)
    figure, axes = one_panel(min(11.0, 4.6 + 0.075 * longest), 1.4 + (0.36 + 0.17 * lines) * len(rows))
    floor = 0.0 if none > 0 else -math.inf
    bounded = [(low <= floor) != math.isinf(high) for low, high in ends]
    values = [row["value"] for row, bound in zip(rows, bounded, strict=True) if not bound]
    known = [x for x in (*values, *(end for pair in ends for end in pair)) if math.isfinite(x)]
    if none > 0:
        known = [x for x in known if x > 0]
        left, right = min([*known, none]) / 1.6, max([*known, none]) * 1.6
        axes.set_xscale("log")
        axes.set_xlim(left / 1.1, right * 1.1)
        ratio_axis(axes.xaxis)
    else:
        room = 0.1 * (max([*known, none]) - min([*known, none])) or 1.0
        left, right = min([*known, none]) - room, max([*known, none]) + room
        axes.set_xlim(left - 0.3 * room, right + 0.3 * room)
    for at, (row, (low, high)) in enumerate(zip(rows, ends, strict=True)):
        style = look(0)
        axes.plot([max(low, left), min(high, right)], [at, at], color=style["color"], linewidth=2)
        if bounded[at]:
            axes.plot([high if low <= floor else low], [at], color=style["color"], marker="|", markersize=11)
        else:
            axes.plot([row["value"]], [at], markersize=8, linestyle="none", **style)
        if high > right:
            axes.plot([right], [at], color=style["color"], marker=">", markersize=8)
        if low < left:
            axes.plot([left], [at], color=style["color"], marker="<", markersize=8)
    axes.axvline(none, color=INK, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    return figure, axes
