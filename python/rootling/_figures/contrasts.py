"""Contrasts with their intervals, in the size of adjusted rates."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.rows import rows_with_value
from rootling._figures.style import (
    COLOURS,
    FAINT,
    GREY,
    INK,
    LABEL,
    SMALL,
    TICK,
    WIDTH,
    as_text,
    one_panel,
    with_unit,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


SCALES = {
    "points": "difference in {per_hundred}",
    "ratio": "ratio of {rates} (log axis)",
    "odds": "odds ratio (log axis)",
}


Row = dict[str, Any]


def _told(result: Result) -> str:
    rows = [row for row in rows_with_value(result) if result.scale == "points" or row["value"] > 0]
    tested = ", filled where shown to differ" if any(row["p_adjusted"] is not None for row in rows) else ""
    ratio = result.scale != "points"
    open_ended = any(
        (_bound(row, "low", ratio=ratio) is None) != (_bound(row, "high", ratio=ratio) is None) for row in rows
    )
    arrow = ", an arrow where there is no limit" if open_ended else ""
    margin = "" if result.margin is None else "; dotted and shaded: the margin"
    return f"Marks: contrasts{tested}; lines: {{of}}intervals{arrow}; upright line: no difference{margin}."


@marks(_told)
def contrasts(result: Result) -> Figure:
    """Contrasts with their intervals one below the other, the line of no difference and the margin of equivalence.

    Filled marks are shown to differ; open ones are not.
    """
    from rootling._figures.ticks import ratio_axis

    rows = [{**row, "shown": (row["p_adjusted"] or 0) < 1 - result.confidence} for row in rows_with_value(result)]
    points = result.scale == "points"
    rows = [row for row in rows if points or row["value"] > 0]
    factor, neutral = (100.0, 0.0) if points else (1.0, 1.0)
    labels = _names(result, rows)
    longest = max((len(line) for label in labels for line in label.split("\n")), default=0)
    height = 1.5 + 0.46 * len(rows) + (0.2 * len(rows) if any("\n" in label for label in labels) else 0)
    figure, axes = one_panel(max(WIDTH, min(11.0, 4.2 + 0.105 * longest)), max(2.6, height))
    ends_of = (("low", "high") if _is_bounded(row, ratio=not points) else ("value", "low", "high") for row in rows)
    bounds = [_bound(row, name, ratio=not points) for row, ends in zip(rows, ends_of, strict=True) for name in ends]
    known = [factor * value for value in bounds if value is not None]
    margin = result.margin
    edges = [] if margin is None else ([-100 * margin, 100 * margin] if points else [1 / margin, margin])
    if points:
        low, high = min([*known, *edges, neutral]), max([*known, *edges, neutral])
        room = 0.08 * (high - low or 1)
        ends = (low - room, high + room)
    else:
        low, high = min([*known, *edges, neutral]), max([*known, *edges, neutral])
        room = 2.0 if any(_is_bounded(row, ratio=True) for row in rows) else 1.25
        ends = (low / room, high * room)
        axes.set_xscale("log")
        ratio_axis(axes.xaxis, TICK)
    for at, row in enumerate(rows):
        _interval(axes, at, row, factor, ends)
    axes.axvline(neutral, color=INK, linewidth=1.4, zorder=1)
    for edge in edges:
        axes.axvline(edge, color=INK, linewidth=1.4, linestyle=":", zorder=1)
    if edges:
        axes.axvspan(edges[0], edges[1], color=FAINT, alpha=0.35, zorder=0)
    if any(row["p_adjusted"] is not None for row in rows):
        told = "filled: shown to differ" + ("; shaded: margin" if edges else "")
        axes.annotate(
            told,
            (0, 1.0),
            xycoords="axes fraction",
            ha="left",
            va="bottom",
            fontsize=SMALL,
            color=GREY,
            annotation_clip=False,
        )
    axes.set_xlim(*ends)
    axes.set_yticks(range(len(rows)), labels, fontsize=TICK)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.tick_params(axis="x", labelsize=TICK)
    scale = SCALES[result.scale].format_map(outcomes.words_of(result))
    axes.set_xlabel(f"{scale}\n{as_text(with_unit(result, result.by))}", color=INK, fontsize=LABEL)
    return figure


def _bound(row: Row, name: str, *, ratio: bool) -> float | None:
    """A limit that can be drawn: a ratio's lower end at 0 and its infinite upper end are none."""
    value = row[name]
    return None if value is None or not math.isfinite(value) or (ratio and value <= 0) else float(value)


def _interval(axes: Axes, at: int, row: Row, factor: float, ends: tuple[float, float]) -> None:
    """One contrast; an end without a bound is an arrow at the edge, no interval at all is a mark alone."""
    low, high = (_bound(row, name, ratio=factor == 1.0) for name in ("low", "high"))
    shown = row["p_adjusted"] is not None and row["shown"]
    face: dict[str, Any] = {
        "color": COLOURS[0] if shown else "white",
        "markeredgecolor": COLOURS[0],
        "markeredgewidth": 2,
    }
    if low is not None or high is not None:
        drawn = [ends[0] if low is None else factor * low, ends[1] if high is None else factor * high]
        axes.plot(drawn, [at, at], color=INK, linewidth=2.2, solid_capstyle="butt", zorder=3)
        for value, bound, arrow in ((drawn[0], low, "<"), (drawn[1], high, ">")):
            # Of one that is bounded on one side the estimate says nothing: the open end carries the mark.
            look: dict[str, Any] = {"color": INK, "marker": "|"} if bound is not None else {"marker": arrow, **face}
            axes.plot([value], [at], markersize=11, zorder=3, **look)
    if not _is_bounded(row, ratio=factor == 1.0):
        axes.plot([factor * row["value"]], [at], marker="o", markersize=11, zorder=4, **face)


def _is_bounded(row: Row, *, ratio: bool) -> bool:
    """True for a ratio with a bound on one side only."""
    low, high = (_bound(row, name, ratio=ratio) for name in ("low", "high"))
    return ratio and (low is None) != (high is None)


def _names(result: Result, rows: list[Row]) -> list[str]:
    """Short names: the factor stands on the axis, its second level and place in the label."""
    prefix = f"{result.by} "
    named = []
    for row in rows:
        name = row["comparison"].removeprefix(prefix).replace(", along a straight line", ",\nalong a line")
        if result.changing_with is not None:
            name = name.replace(f", {result.changing_with} ", ",\n")
        if result.within is not None:
            name = f"{row[result.within]}: {name}"
        named.append("\n".join(map(as_text, name.split("\n"))))
    return named
