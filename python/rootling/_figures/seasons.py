"""Figures of seasons pooled: each season, the average, a new one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, FAINT, INK, LABEL, SMALL, TICK, WIDTH, as_text, one_panel
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


@marks(
    "Circles: seasons, larger where they count for more; crosses: left out; diamond: the average; lines: {of}"
    "intervals; band: {of}limits of a new season, where one is spoken of; dashed: no difference."
)
def pooled(result: Result) -> Figure:
    """The difference of each season with its limits, the average, and a band of what a new season may bring."""
    seasons, out = list(result.seasons), list(result.left_out)
    names = [as_text(one.season) for one in seasons] + [f"{as_text(one.season)}, left out" for one in out]
    names.append("average of these" if result.these_alone else "average")
    ahead = None if result.new_low is None else (100 * result.new_low, 100 * result.new_high)
    if ahead is not None:
        names.append("a new season")
    figure, axes = one_panel(WIDTH, 1.7 + 0.46 * len(names))
    if ahead is not None:
        axes.axvspan(*ahead, color=FAINT, alpha=0.35, linewidth=0, zorder=0)
        axes.plot(ahead, [len(names) - 1] * 2, color=COLOURS[2], linewidth=5, solid_capstyle="butt")
    most = max(one.weight for one in seasons)
    for at, one in enumerate(seasons):
        axes.plot([100 * one.low, 100 * one.high], [at, at], color=COLOURS[0], linewidth=2, solid_capstyle="butt")
        size = 5 + 5 * (one.weight / most) ** 0.5
        axes.plot([100 * one.value], [at], marker="o", markersize=size, color=COLOURS[0], linestyle="none")
    for at, left in enumerate(out, len(seasons)):
        axes.plot([100 * left.value], [at], marker="x", markersize=8, color=INK, linestyle="none")
    place = len(seasons) + len(out)
    axes.plot([100 * result.low, 100 * result.high], [place] * 2, color=COLOURS[1], linewidth=3, solid_capstyle="butt")
    axes.plot([100 * result.value], [place], marker="D", markersize=10, color=COLOURS[1], linestyle="none")
    axes.axvline(0, color=INK, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(labelsize=TICK)
    pair = f"{as_text(result.second)} minus {as_text(result.first)}"
    per = outcomes.words_of(result)["per_hundred"]
    axes.set_xlabel(f"difference in {per},\n{pair}", color=INK, fontsize=LABEL if len(pair) < SMALL * 2 else SMALL)
    axes.margins(x=0.08)
    return figure
