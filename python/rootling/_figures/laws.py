"""A law of counts: how often each was met, and how often the law expects it, group by group."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.room import across
from rootling._figures.style import COLOURS, INK, as_text, in_lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Groups that have a panel each; more are shown all together.
PANELS = 6
SIDE_BY_SIDE = 3
# Marks of the axis of counts at most.
TICKS = 8


def _told(result: Any) -> str:
    of = "each group" if 1 < len(result.groups) <= PANELS else "all cuttings"
    return f"Bars: how often each count was met, of {of}; points and line: how often the law expects it."


def _panels(result: Any) -> list[tuple[str, list[float], list[float]]]:
    """Heading, observed and expected of each panel."""
    groups = list(result.groups)
    if 1 < len(groups) <= PANELS:
        by = f"{result.by.replace('_', ' ')} " if result.by else ""
        return [(f"{by}{one.group}", list(one.observed), list(one.expected)) for one in groups]
    both = (zip(*(getattr(one, part) for one in groups), strict=True) for part in ("observed", "expected"))
    observed, expected = ([sum(entries) for entries in part] for part in both)
    return [("", observed, expected)]


@marks(_told)
def count_law(result: Result) -> Figure:
    """Bars of the counts met and points of those expected, a panel for each group."""
    from rootling._figures.paper import PaperFigure

    panels, last = _panels(result), result.last_count
    over = any(observed[-1] or expected[-1] >= 0.05 for _, observed, expected in panels)
    shown = last + 2 if over else last + 1
    columns = across(min(SIDE_BY_SIDE, len(panels)), 2.2)
    lines = -(-len(panels) // columns)
    figure = PaperFigure(figsize=(max(6.4, 3.2 * columns), 0.8 + 2.6 * lines), layout="constrained")
    every = figure.subplots(lines, columns, squeeze=False, sharex=True)
    for axes, (heading, observed, expected) in zip(every.ravel(), panels, strict=False):
        places = range(shown)
        axes.bar(places, observed[:shown], width=0.7, color="#d7e3ee", edgecolor=COLOURS[0], linewidth=0.8)
        axes.plot(places, expected[:shown], color=COLOURS[1], marker="s", markersize=4.5, linewidth=1.2)
        axes.set_title(in_lines(heading), fontsize=11, color=INK)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=10, labelbottom=True)
        step = -(-shown // TICKS)
        ticks = list(range(0, shown, step))
        axes.set_xticks(ticks, [f"{at}+" if at > last else str(at) for at in ticks])
        axes.set_ylim(bottom=0)
    for axes in every.ravel()[len(panels) :]:
        axes.set_visible(False)
    for axes in every[:, 0]:
        axes.set_ylabel("cuttings", color=INK)
    for axes in every[-1, :]:
        axes.set_xlabel(as_text(f"{result.name.replace('_', ' ')} of a cutting"), color=INK)
    return figure
