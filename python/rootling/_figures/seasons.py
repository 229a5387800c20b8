"""Figures of seasons pooled: each season, the average, a new one; of a difference, and of the best strength."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.strengths import StrengthAxis, strength_ticks
from rootling._figures.style import COLOURS, FAINT, INK, LABEL, SMALL, TICK, WIDTH, as_text, one_panel
from rootling._words import outcomes

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


@marks(
    "Circles: seasons, larger where they count for more; crosses: left out; diamond: the average; lines: {of}"
    "intervals; band: {of}limits of a new season, where one is spoken of; dashed: no difference."
)
def pooled(result: Result) -> Figure:
    """The difference of each season with its limits, the average, and a band of what a new season may bring."""
    ahead = None if result.new_low is None else (result.new_low, result.new_high)
    figure, axes = _rows(result, ahead, lambda value: 100 * value)
    axes.axvline(0, color=INK, linewidth=1, linestyle="--")
    axes.tick_params(axis="x", labelsize=TICK)
    pair = f"{as_text(result.second)} minus {as_text(result.first)}"
    per = outcomes.words_of(result)["per_hundred"]
    axes.set_xlabel(f"difference in {per},\n{pair}", color=INK, fontsize=LABEL if len(pair) < SMALL * 2 else SMALL)
    axes.margins(x=0.08)
    return figure


@marks(
    "Circles: best strengths of seasons, larger where they count for more; crosses: left out; diamond: the average; "
    "lines: {of}intervals; band: {of}limits of a new season, where one is spoken of."
)
def best_over_seasons(result: Result) -> Figure:
    """The best strength of each season with its limits, the average, and a band of where a new season may have it."""
    low, high = result.tested
    axis = StrengthAxis([low, high])
    ahead = None if result.new_low is None else (max(result.new_low, low), min(result.new_high, high))
    figure, axes = _rows(result, ahead, lambda value: axis.place(min(max(value, low), high)))
    unit = " ".join(one for one in (result.unit, result.substance) if one)
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    shown = [one * 10.0**decade for decade in decades for one in (1, 2, 5) if low <= one * 10.0**decade <= high]
    strength_ticks(axes, axis, shown or [low, high], f"best strength, {as_text(unit)}" if unit else "best strength")
    return figure


def _rows(result: Result, ahead: tuple[float, float] | None, place: Callable[[float], float]) -> tuple[Figure, Axes]:
    """A row for each season, those left out, the average and a new season, each where its number stands."""
    seasons, out = list(result.seasons), list(result.left_out)
    names = [as_text(one.season) for one in seasons] + [f"{as_text(one.season)}, left out" for one in out]
    names.append("average of these" if result.these_alone else "average")
    if ahead is not None:
        names.append("a new season")
    figure, axes = one_panel(WIDTH, 1.7 + 0.46 * len(names))
    if ahead is not None:
        ends = [place(ahead[0]), place(ahead[1])]
        axes.axvspan(*ends, color=FAINT, alpha=0.35, linewidth=0, zorder=0)
        axes.plot(ends, [len(names) - 1] * 2, color=COLOURS[2], linewidth=5, solid_capstyle="butt")
    _seasons(axes, seasons, place)
    for at, left in enumerate(out, len(seasons)):
        axes.plot([place(left.value)], [at], marker="x", markersize=8, color=INK, linestyle="none")
    row = len(seasons) + len(out)
    axes.plot([place(result.low), place(result.high)], [row] * 2, color=COLOURS[1], linewidth=3, solid_capstyle="butt")
    axes.plot([place(result.value)], [row], marker="D", markersize=10, color=COLOURS[1], linestyle="none")
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(axis="y", labelsize=TICK)
    return figure, axes


def _seasons(axes: Axes, seasons: Sequence[Any], place: Callable[[float], float]) -> None:
    most = max(one.weight for one in seasons)
    for at, one in enumerate(seasons):
        ends = [place(one.low), place(one.high)]
        axes.plot(ends, [at, at], color=COLOURS[0], linewidth=2, solid_capstyle="butt")
        size = 5 + 5 * (one.weight / most) ** 0.5
        axes.plot([place(one.value)], [at], marker="o", markersize=size, color=COLOURS[0], linestyle="none")
