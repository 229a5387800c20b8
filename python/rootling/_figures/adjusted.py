"""Adjusted rates with letters, and two treatments together.

Drawn large enough that every label can be read when the figure is set at the width of one column (85 mm).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from rootling._figures.beside import beside, drawn, middle, room_of
from rootling._figures.captions import marks
from rootling._figures.letters import free
from rootling._figures.rows import rows_with_value
from rootling._figures.style import (
    COLOURS,
    FAINT,
    GREY,
    INK,
    LABEL,
    MARKERS,
    SMALL,
    TICK,
    WIDTH,
    as_text,
    key_of,
    limits,
    one_panel,
    with_unit,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Annotation

    from rootling._results import Result


MOST_POINTS = 60
# Square points of a tray's mark.
MARK = 30

Row = dict[str, Any]
Points = dict[tuple[str, ...], list[float]]
LINES = ("-", "--", ":", "-.", (0, (5, 1, 1, 1, 1, 1)), (0, (1, 1)), (0, (8, 2)))


def _told(result: Result) -> str:
    rows = rows_with_value(result)
    names = [result.by] if result.within is None else [result.by, result.within]
    units = "; open marks: single {units}" if _points(result, names) else ""
    letters = " Levels that share a letter are not shown to differ." if any(row.get("letters") for row in rows) else ""
    return f"Filled marks and bars: {{rates}} from the model with {{of}}intervals{units}.{letters}"


@marks(_told)
def adjusted_rates(result: Result) -> Figure:
    """Adjusted rates with intervals (and letters), every tray behind them; with a second factor as an interaction."""
    rows = rows_with_value(result)
    by, within = result.by, result.within
    names = [by] if within is None else [by, within]
    points = _points(result, names)
    labels = list(dict.fromkeys(row[by] for row in rows))
    groups = [None] if within is None else list(dict.fromkeys(row[within] for row in rows))
    figure, axes = one_panel(max(WIDTH, min(13.0, 1.5 + 0.62 * len(labels) * max(1, len(groups)) ** 0.8)), 5.0)
    # Levels are places, not amounts: a group is set aside within the band of its level.
    reach = min(0.31, 0.11 * (len(groups) - 1))
    step = 0.0 if len(groups) < 2 else 2 * reach / (len(groups) - 1)
    lettered: list[Annotation] = []
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
            width = 0.34 if group is None else 0.8 * step if step else 0.6
            aside = 0.26 if group is None else 0.0
            _trays(axes, (at - aside, len(labels)), points.get(key, []), width, shape)
            first = group is not None and row is mine[0]
            top = _estimate(axes, at, row, index, as_text(group) if first else None)
            _letters(axes, at, top, row, lettered)
    if len(groups) > 1:
        _bands(axes, len(labels))
    _dress(
        axes, [with_unit(result, by)], [as_text(label) for label in labels], f"{outcomes.words_of(result)['rate']}, %"
    )
    title = "" if within is None else within.replace("_", " ") + (": letters compare within each" if lettered else "")
    marks = outcomes.open_marks(result._record.get("unit") or "tray") if points else None
    _key(axes, 0 if within is None else len(groups), title, marks)
    if lettered:
        free(figure, axes, lettered)
    return figure


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


def _trays(axes: Axes, place: tuple[float, int], values: list[float], width: float, marker: str) -> None:
    """Single trays as open grey marks, side by side about their place, of so many levels."""
    at, levels = place
    shown = _spread(values)
    room = room_of(axes, MARK, (levels + 0.1, 111.0))
    places = [
        (at + middle(slot) * room.across, value, count)
        for value, slot, count in beside(shown, 1 + 2 * int(0.5 * width / room.across), room.along)
    ]
    drawn(axes, places, -1, s=MARK, edgecolors=GREY, marker=marker, linewidths=0.9, zorder=2)


def _estimate(axes: Axes, at: float, row: Row, index: int, label: str | None = None) -> float:
    """An estimate with its interval; returns the upper end in percent."""
    low, high = limits(row)
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


def _letters(axes: Axes, at: float, top: float, row: Row, made: list[Annotation]) -> None:
    if row.get("letters"):
        letters = axes.annotate(
            row["letters"],
            (at, top),
            xytext=(0, 5),
            textcoords="offset points",
            ha="center",
            va="bottom",
            fontsize=LABEL,
            color=INK,
            zorder=5,
        )
        made.append(letters)


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
    axes.set_xlabel(as_text(", ".join(names)), color=INK, fontsize=LABEL)
    axes.set_ylim(-3, 108)
    axes.set_yticks(range(0, 101, 20))
    axes.set_ylabel(what, color=INK, fontsize=LABEL)
    axes.tick_params(axis="y", labelsize=TICK)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


def _key(axes: Axes, groups: int, title: str, marks: str | None) -> None:
    """What the marks mean, above the axes."""
    if groups:
        told = key_of(
            axes,
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=min(groups, 3),
            fontsize=SMALL,
            title=as_text(title),
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
