"""The figure of rooms or grafters side by side: what was seen, what was expected, and the limits between."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, FAINT, INK, as_text, key_of, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


@marks(
    "Marks: rates seen, squares where a place stands out; strokes: what is expected; bands: limits for all "
    "places together."
)
def places(result: Result) -> Figure:
    """Each unit's rate and what is expected of it, with limits for all units together; those outside are marked."""
    units = sorted(result.places, key=lambda one: one.statistic if one.statistic is not None else 0.0)
    figure, axes = one_panel(6.8, 1.5 + 0.36 * len(units))
    decides = 1 - result.confidence
    said: set[str] = set()

    def once(label: str) -> str | None:
        new = label not in said
        said.add(label)
        return label if new else None

    for at, one in enumerate(units):
        if one.low is not None:
            axes.barh(
                [at],
                [100 * (one.high - one.low)],
                left=[100 * one.low],
                height=0.55,
                color=FAINT,
                label=once("limits, for all together"),
            )
        axes.plot([100 * one.expected], [at], "|", color=INK, markersize=14, label=once("expected"))
        outside = one.p_adjusted is not None and one.p_adjusted <= decides
        colour, mark, label = (COLOURS[1], "s", "alive, stands out") if outside else (COLOURS[0], "o", "alive")
        axes.plot([100 * one.value], [at], mark, color=colour, markersize=7, label=once(label))
    axes.set_yticks(range(len(units)), [as_text(one.level) for one in units])
    axes.invert_yaxis()
    axes.set_xlabel("alive, %", color=INK)
    key_of(axes, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return figure
