"""The axis of strengths: a log axis with strength 0 behind a break, its label, and the words below a figure."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

from rootling._figures.room import width
from rootling._figures.style import (
    INK,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


# Labels of more strengths than this are turned, by so many degrees.
SEVERAL, CROWDED = 7, 40.0


class StrengthAxis:
    """Places of strengths: log10 above 0, and 0 to the left of a break."""

    def __init__(self, strengths: list[float]) -> None:
        positive = sorted(strength for strength in strengths if strength > 0)
        self.low, self.high = math.log10(positive[0]), math.log10(positive[-1])
        self.span = max(self.high - self.low, 0.3)
        self.has_zero = any(strength == 0 for strength in strengths)
        self.zero = self.low - max(0.22 * self.span, 0.15)
        self.cut = self.low - 0.5 * (self.low - self.zero)

    def place(self, strength: float) -> float:
        """Where a strength stands; below the break it is drawn at 0."""
        if strength <= 0 or math.log10(strength) < self.cut:
            return self.zero if self.has_zero else self.low
        return math.log10(strength)


def strength_ticks(axes: Axes, axis: StrengthAxis, strengths: list[float], label: str) -> None:
    from rootling._figures.ticks import strength_axis

    labels = {axis.place(strength): strength_text(strength) for strength in strengths}
    turned = CROWDED if len(labels) > SEVERAL else 0.0
    strength_axis(axes.xaxis, labels, turned=turned)
    axes.tick_params(axis="x", rotation=turned)
    axes.set_xlim((axis.zero if axis.has_zero else axis.low) - 0.07 * axis.span, axis.high + 0.07 * axis.span)
    axes.set_xlabel(label, color=INK)
    if axis.has_zero:
        for shift in (-0.008, 0.008):
            axes.plot(
                [axis.cut + (shift - 0.006) * axis.span, axis.cut + (shift + 0.006) * axis.span],
                [-0.02, 0.02],
                transform=axes.get_xaxis_transform(),
                color=INK,
                linewidth=1.2,
                clip_on=False,
                zorder=5,
            )


def strength_text(value: float) -> str:
    if value >= 1000:
        return f"{value:.0f}"
    return f"{value:.3g}"


def below(figure: Figure, text: str, wide: float) -> None:
    """What the marks are, below a figure on a screen; at the width of a column the caption says it."""
    if width() is None:
        figure.supxlabel(textwrap.fill(text, int(13.5 * wide)), fontsize=9, color=INK, x=0.01, ha="left")


def span(axes: Axes, axis: StrengthAxis, height: float, ends: tuple[float, float], style: dict[str, Any]) -> None:
    axes.plot([axis.place(ends[0]), axis.place(ends[1])], [height, height], solid_capstyle="butt", **style)
