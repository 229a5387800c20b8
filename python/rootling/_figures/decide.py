"""Figures of a choice in money: the gain of each level, and how likely each is to be best."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, FAINT, INK, LABEL, TICK, WIDTH, as_text, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


@marks(
    "Circles: gain of a season at each level, filled for the level chosen; lines: {of}intervals; shares: chance of "
    "being best; dashed: what is spent comes back."
)
def level_choice(result: Result) -> Figure:
    """The gain of each level with its limits, and beside it the chance that it is best."""
    levels = list(result.levels)
    figure, axes = one_panel(WIDTH, 1.6 + 0.55 * len(levels))
    low, high = min(one.low for one in levels), max(one.high for one in levels)
    if low < 0 < high:
        axes.axvline(0, color=INK, linewidth=1, linestyle="--", zorder=1)
    for at, one in enumerate(levels):
        best = one.level == result.best
        colour = COLOURS[1] if best else COLOURS[0]
        axes.axhline(at, color=FAINT, linewidth=0.6, zorder=0)
        axes.plot([one.low, one.high], [at, at], color=colour, linewidth=3 if best else 2, solid_capstyle="butt")
        face = colour if best else "white"
        axes.plot([one.value], [at], marker="o", markersize=10, color=colour, markerfacecolor=face, linestyle="none")
    axes.set_yticks(range(len(levels)), [as_text(one.level) for one in levels])
    axes.set_ylim(len(levels) - 0.4, -0.6)
    axes.set_ylabel(as_text(str(result.factor).replace("_", " ")), color=INK, fontsize=LABEL)
    money = f", {as_text(result.money)}" if result.money else ""
    axes.set_xlabel(f"gain a season{money}", color=INK, fontsize=LABEL)
    axes.xaxis.set_major_formatter(lambda x, _: f"{x:,.0f}" if abs(x) >= 1 or x == 0 else f"{x:g}")
    axes.locator_params(axis="x", nbins=5)
    axes.tick_params(labelsize=TICK)
    axes.margins(x=0.08)
    beside = axes.secondary_yaxis("right")
    beside.set_yticks(range(len(levels)), [f"{100 * one.chance_best:.0f} %" for one in levels])
    beside.tick_params(labelsize=TICK, colors=INK, length=0)
    beside.spines["right"].set_visible(False)
    beside.set_ylabel("best in", color=INK, fontsize=LABEL)
    return figure
