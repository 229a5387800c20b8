"""Contours of the take over strength and darkness."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rootling._figures.captions import marks
from rootling._figures.strengths import StrengthAxis, below, strength_ticks
from rootling._figures.style import (
    INK,
    as_text,
    one_panel,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

TEXT = (
    "Contours: rooted of stuck, %. Circles: combinations tested, filled by their rate (same scale). Bars: best "
    "strength at each darkness with interval (arrow: not located on that side). {region}"
)


def _told(result: Result) -> str:
    held = result.top is not None and result.top.region
    region = "Dashed: region that is not ruled out as the best combination." if held else ""
    return TEXT.format(region=region).rstrip()


@marks(_told)
def response_surface(result: Result) -> Figure:
    """Contours with tested combinations, best strengths and the region that is not ruled out as the top."""
    figure, axes = one_panel(7.6, 5.4)
    grid, trays = result.grid, result.input.trays
    strengths = sorted({tray.strength for tray in trays})
    axis = StrengthAxis(strengths)
    shown = [at for at, d in enumerate(grid.strength) if d > 0 and math.log10(d) >= axis.cut]
    places = [axis.place(grid.strength[at]) for at in shown]
    percent = [[100 * row[at] for at in shown] for row in grid.take]
    shades = axes.contourf(places, grid.darkness, percent, levels=range(0, 101, 10), cmap="cividis", alpha=0.55)
    lines = axes.contour(places, grid.darkness, percent, levels=range(0, 101, 10), colors=INK, linewidths=0.7)
    axes.clabel(lines, fontsize=8)
    sums: dict[tuple[float, float], list[int]] = {}
    for tray in trays:
        sums.setdefault((tray.strength, tray.darkness), []).append(0)
    for (strength, darkness), _ in sums.items():
        own = [tray for tray in trays if (tray.strength, tray.darkness) == (strength, darkness)]
        rate = 100 * sum(tray.rooted for tray in own) / sum(tray.stuck for tray in own)
        colour = shades.cmap(rate / 100)
        axes.plot([axis.place(strength)], [darkness], "o", markersize=9, color=colour, markeredgecolor=INK, zorder=4)
    span = max(grid.darkness) - min(grid.darkness)
    for best in result.best:
        here = best.darkness + 0.035 * span
        limits = best.strength
        ends = [axis.place(limits.low), axis.place(limits.high)]
        axes.plot(ends, [here, here], color="#d55e00", linewidth=2.2, zorder=5)
        axes.plot([axis.place(limits.value)], [here], "D", color="#d55e00", markersize=6, zorder=6)
        for is_open, end, mark in ((limits.open_low, ends[0], "<"), (limits.open_high, ends[1], ">")):
            if is_open:
                axes.plot([end], [here], marker=mark, color="#d55e00", markersize=7, zorder=6)
    if result.top is not None and result.top.region:
        inside = {(row, column) for row, column in result.top.region}
        held = [[1.0 if (row, at) in inside else 0.0 for at in shown] for row in range(len(grid.darkness))]
        axes.contour(places, grid.darkness, held, levels=[0.5], colors="#0072b2", linewidths=2, linestyles="--")
    if axis.has_zero:
        axes.axvspan(axis.zero - 0.07 * axis.span, axis.cut, color="white", zorder=1)
    unit = f", {as_text(result.input.unit)}" if result.input.unit else ""
    strength_ticks(axes, axis, strengths, f"strength{unit}")
    axes.set_ylim(min(grid.darkness) - 0.08 * span, max(grid.darkness) + 0.1 * span)
    axes.set_yticks(sorted({tray.darkness for tray in trays}))
    axes.set_ylabel("days of darkness", color=INK)
    below(figure, _told(result), 7.6)
    return figure
