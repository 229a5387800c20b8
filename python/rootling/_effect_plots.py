"""Figures of what a model says: rates with letters, interactions, contrasts.

They are drawn large enough that every label can be read when the figure is set at the width of one column (85 mm).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from rootling import _outcome
from rootling._plots import COLOURS, FAINT, INK, MARKERS, _axes, _limits, _plain, _with_unit

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result

# At 85 mm a figure of this width is reduced to about half: 14 points become 7.
WIDTH = 6.4
LABEL = 14
TICK = 13
SMALL = 12
GREY = "#6d7268"
LINES = ("-", "--", ":", "-.", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 1)), (0, (8, 2)))
MOST_POINTS = 60

Row = dict[str, Any]
Points = dict[tuple[str, ...], list[float]]


def _levels(units: dict[str, Any], name: str) -> list[str] | None:
    """The level of every unit in a column."""
    places = ("tray", "block", "whole_plot", "season", "stock_plant")
    factors = [*units["treatments"], *(units[place] for place in places if units[place] is not None)]
    found = next((factor for factor in factors if factor["name"] == name), None)
    return None if found is None else [found["levels"][code] for code in found["codes"]]


def _points(result: Result, names: list[str]) -> Points:
    """What is counted of every recorded tray in percent, by its levels."""
    units = result._context.get("units")
    counts = None if units is None else units()
    if counts is None or counts["kind"] != "tray":
        return {}
    columns = [_levels(counts, name) for name in names]
    if any(column is None for column in columns):
        return {}
    keys = zip(*(column for column in columns if column is not None), strict=True)
    points: Points = {}
    for key, rooted, stuck in zip(keys, counts["rooted"], counts["stuck"], strict=True):
        if stuck:
            points.setdefault(tuple(key), []).append(100 * rooted / stuck)
    return points


def _spread(values: list[float]) -> list[float]:
    """At most so many of a group's values that each can be seen: evenly chosen in order of size."""
    if len(values) <= MOST_POINTS:
        return values
    ordered = sorted(values)
    return [ordered[round(k * (len(ordered) - 1) / (MOST_POINTS - 1))] for k in range(MOST_POINTS)]


def _trays(axes: Axes, at: float, values: list[float], width: float, marker: str) -> None:
    """Single trays as open grey marks, side by side about their place."""
    shown = _spread(values)
    side = [at + width * ((k % 5) / 4 - 0.5) for k in range(len(shown))]
    axes.scatter(side, shown, s=30, facecolors="none", edgecolors=GREY, marker=marker, linewidths=0.9, zorder=2)


def _estimate(axes: Axes, at: float, row: Row, index: int, label: str | None = None) -> float:
    """An estimate with its interval; returns the upper end in percent."""
    low, high = _limits(row)
    value = 100 * row["value"]
    colour, marker = COLOURS[index % len(COLOURS)], MARKERS[index % len(MARKERS)]
    axes.errorbar(
        [at],
        [value],
        yerr=[[max(0.0, value - 100 * low)], [max(0.0, 100 * high - value)]],
        color=colour,
        ecolor=INK,
        marker=marker,
        markersize=11,
        markeredgecolor=INK,
        capsize=6,
        linewidth=2,
        linestyle="none",
        label=label,
        zorder=4,
    )
    return 100 * high


def _letters(axes: Axes, at: float, top: float, row: Row) -> None:
    if row.get("letters"):
        axes.annotate(
            row["letters"],
            (at, top),
            xytext=(0, 5),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=LABEL,
            color=INK,
            zorder=5,
            bbox={"boxstyle": "square,pad=0.1", "facecolor": "white", "edgecolor": "none", "alpha": 0.8},
        )


def _bands(axes: Axes, levels: int) -> None:
    """A band for each level, so that marks set aside are read as its own."""
    for at in range(0, levels, 2):
        axes.axvspan(at - 0.5, at + 0.5, color=FAINT, alpha=0.25, linewidth=0, zorder=0)
    axes.tick_params(axis="x", length=0)


def _dress(axes: Axes, names: Iterable[str], labels: list[str], what: str) -> None:
    longest = max(map(len, labels), default=0) * len(labels)
    slanted = longest > 34
    axes.set_xticks(
        range(len(labels)), labels, rotation=35 if slanted else 0, ha="right" if slanted else "center", fontsize=TICK
    )
    axes.set_xlim(-0.55, len(labels) - 0.45)
    axes.set_xlabel(_plain(", ".join(names)), color=INK, fontsize=LABEL)
    axes.set_ylim(-3, 108)
    axes.set_yticks(range(0, 101, 20))
    axes.set_ylabel(what, color=INK, fontsize=LABEL)
    axes.tick_params(axis="y", labelsize=TICK)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


def _key(axes: Axes, groups: int, title: str, marks: str | None) -> None:
    """What the marks mean, above the axes."""
    if groups:
        told = axes.legend(
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=min(groups, 3),
            frameon=False,
            fontsize=SMALL,
            title=_plain(title),
            title_fontsize=SMALL,
            alignment="left",
            handletextpad=0.3,
            columnspacing=1.2,
        )
        told.set_in_layout(True)
    if marks is not None:
        axes.annotate(
            marks,
            (1, 1.01),
            xycoords="axes fraction",
            ha="right",
            va="bottom",
            fontsize=SMALL,
            color=GREY,
        )


def _rows(result: Result) -> list[Row]:
    return [row for row in result.table().iter_rows(named=True) if row["value"] is not None]


def rates(result: Result) -> Figure:
    """Adjusted rates with intervals (and letters), every tray behind them; with a second factor as an interaction."""
    rows = _rows(result)
    by, within = result.by, result.within
    names = [by] if within is None else [by, within]
    points = _points(result, names)
    labels = list(dict.fromkeys(row[by] for row in rows))
    groups = [None] if within is None else list(dict.fromkeys(row[within] for row in rows))
    figure, axes = _axes(max(WIDTH, min(13.0, 1.5 + 0.62 * len(labels) * max(1, len(groups)) ** 0.8)), 5.0)
    # Levels are places, not amounts: a group is set aside within the band of its level.
    reach = min(0.31, 0.11 * (len(groups) - 1))
    step = 0.0 if len(groups) < 2 else 2 * reach / (len(groups) - 1)
    for index, group in enumerate(groups):
        offset = step * index - reach
        mine = [row for row in rows if within is None or row[within] == group]
        places = [labels.index(row[by]) + offset for row in mine]
        if group is not None:
            colour = COLOURS[index % len(COLOURS)]
            values = [100 * row["value"] for row in mine]
            axes.plot(places, values, color=colour, linestyle=LINES[index % len(LINES)], linewidth=1.6, zorder=3)
        for at, row in zip(places, mine, strict=True):
            key = (row[by],) if group is None else (row[by], group)
            shape = MARKERS[index % len(MARKERS)]
            width = 0.30 if group is None else min(0.14, 0.6 * step)
            beside = 0.26 if group is None else 0.0
            _trays(axes, at - beside, points.get(key, []), width, shape)
            first = group is not None and row is mine[0]
            top = _estimate(axes, at, row, index, _plain(group) if first else None)
            _letters(axes, at, top, row)
    if len(groups) > 1:
        _bands(axes, len(labels))
    _dress(
        axes, [_with_unit(result, by)], [_plain(label) for label in labels], f"{_outcome.words_of(result)['rate']}, %"
    )
    lettered = within is not None and any(row.get("letters") for row in rows)
    title = "" if within is None else within.replace("_", " ") + (": letters compare within each" if lettered else "")
    marks = _outcome.open_marks(result._record.get("unit") or "tray") if points else None
    _key(axes, 0 if within is None else len(groups), title, marks)
    return figure


SCALES = {
    "points": "difference in {per_hundred}",
    "ratio": "ratio of {rates} (log axis)",
    "odds": "odds ratio (log axis)",
}


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
        named.append("\n".join(map(_plain, name.split("\n"))))
    return named


def contrasts(result: Result) -> Figure:
    """Contrasts with their intervals one below the other, the line of no difference and the margin of equivalence.

    Filled marks are shown to differ; open ones are not.
    """
    from rootling._fitting_ticks import ratio_axis

    rows = [{**row, "shown": (row["p_adjusted"] or 0) < 1 - result.confidence} for row in _rows(result)]
    points = result.scale == "points"
    rows = [row for row in rows if points or row["value"] > 0]
    factor, neutral = (100.0, 0.0) if points else (1.0, 1.0)
    labels = _names(result, rows)
    longest = max((len(line) for label in labels for line in label.split("\n")), default=0)
    height = 1.5 + 0.46 * len(rows) + (0.2 * len(rows) if any("\n" in label for label in labels) else 0)
    figure, axes = _axes(max(WIDTH, min(11.0, 4.2 + 0.105 * longest)), max(2.6, height))
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
    scale = SCALES[result.scale].format_map(_outcome.words_of(result))
    axes.set_xlabel(f"{scale}\n{_plain(_with_unit(result, result.by))}", color=INK, fontsize=LABEL)
    return figure
