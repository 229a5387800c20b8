"""Figures of planned trials: what they show over trays, how near they come, differences that they show, looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, GREY, INK, MARKERS, key_of, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

DASHES = ("-", "--", ":", "-.")


def _lines(result: Result) -> dict[tuple[int, float], list[Any]]:
    """Rows by cuttings and correlation."""
    found: dict[tuple[int, float], list[Any]] = {}
    for row in result.rows:
        found.setdefault((row.cuttings, row.correlation), []).append(row)
    return found


def _drawn(axes: Any, result: Result, value: Any) -> None:
    lines = _lines(result)
    sizes = sorted({cuttings for cuttings, _ in lines})
    alike = sorted({correlation for _, correlation in lines})
    for (cuttings, correlation), rows in lines.items():
        colour = COLOURS[alike.index(correlation) % len(COLOURS)]
        at = sizes.index(cuttings)
        label = f"correlation {correlation:.2g}" + (f", {cuttings} cuttings" if len(sizes) > 1 else "")
        points = sorted((row.trays, 100 * value(row)) for row in rows if value(row) is not None)
        if points:
            axes.plot(
                *zip(*points, strict=True),
                DASHES[at % len(DASHES)],
                marker=MARKERS[alike.index(correlation) % len(MARKERS)],
                color=colour,
                markersize=6,
                linewidth=1.6,
                label=label,
            )
    axes.set_xlabel("trays of each level", color=INK)
    axes.xaxis.get_major_locator().set_params(integer=True)
    key_of(axes, loc="upper left", bbox_to_anchor=(1.0, 1.0))


@marks(
    "Points: trials of 100 drawn that show the difference; a line for each correlation and number of "
    "cuttings; dashed: 4 in 5."
)
def power(result: Result) -> Figure:
    """Trials of a hundred that show what is there, over trays; a line for each correlation and number of cuttings."""
    figure, axes = one_panel(7.4, 4.0)
    _drawn(axes, result, lambda row: row.power)
    axes.axhline(80, color=GREY, linewidth=1, linestyle="--")
    axes.annotate("4 in 5", (0.01, 80), xycoords=("axes fraction", "data"), va="bottom", fontsize=8, color=GREY)
    axes.set_ylim(0, 102)
    axes.set_ylabel("trials of 100 that show it", color=INK)
    return figure


@marks("Points: half the width of the {of}interval; a line for each correlation and number of cuttings.")
def precision(result: Result) -> Figure:
    """Half the width of the interval over trays."""
    figure, axes = one_panel(7.4, 4.0)
    _drawn(axes, result, lambda row: row.half_width)
    axes.set_ylim(bottom=0)
    axes.set_ylabel("either way, trees per 100", color=INK)
    return figure


@marks("Bars: the fewest that show the difference as often as asked, for each correlation; grey: more than were tried.")
def needed(result: Result) -> Figure:
    """Trays that it takes, a bar for each row."""
    rows = result.rows
    figure, axes = one_panel(6.4, 1.2 + 0.42 * len(rows))
    bays = any(row.bays for row in rows)
    for at, row in enumerate(rows):
        size = row.bays if bays else row.trays
        axes.barh([at], [size], height=0.6, color=COLOURS[0] if row.reached else GREY)
        text = f"{size}" if row.reached else f"more than {size}"
        axes.annotate(text, (size, at), xytext=(4, 0), textcoords="offset points", va="center", fontsize=9)
    names = [f"correlation {row.correlation:.2g}, {row.cuttings} cuttings" for row in rows]
    axes.set_yticks(range(len(rows)), names)
    axes.invert_yaxis()
    axes.margins(x=0.15)
    axes.set_xlabel("bays of each level" if bays else "trays of each level", color=INK)
    return figure


@marks("Upright line: the take; points: the nearest takes that are told apart from it as often as asked.")
def smallest(result: Result) -> Figure:
    """The takes that are told apart from the first, for each row."""
    rows = result.rows
    figure, axes = one_panel(6.4, 1.2 + 0.42 * len(rows))
    take = 100 * result.take
    for at, row in enumerate(rows):
        low = 0 if row.fall is None else take - 100 * row.fall
        high = 100 if row.rise is None else take + 100 * row.rise
        axes.plot([low, high], [at, at], color=COLOURS[0], linewidth=2)
        for end, shown in ((low, row.fall), (high, row.rise)):
            if shown is not None:
                axes.plot([end], [at], "o", color=COLOURS[0], markersize=7)
    axes.axvline(take, color=INK, linewidth=1)
    names = [f"{row.trays} trays of {row.cuttings}, correlation {row.correlation:.2g}" for row in rows]
    axes.set_yticks(range(len(rows)), names)
    axes.invert_yaxis()
    axes.set_xlim(-2, 102)
    axes.set_xlabel("take, %; takes beyond the points are told apart from the line as often as asked", color=INK)
    return figure


@marks(
    "Above: the P value at or below which the trial ends at each look; dashed: a single look. Below: trials "
    "of 100 that have ended by then."
)
def looks(result: Result) -> Figure:
    """P levels of the looks, and the share of trials that have ended by then."""
    from rootling._figures.paper import PaperFigure
    from rootling._figures.ticks import plain_axis

    figure = PaperFigure(figsize=(6.4, 4.6), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    trays = [row.trays for row in result.rows]
    above.plot(trays, [row.p_level for row in result.rows], "o-", color=COLOURS[0], markersize=7)
    above.axhline(1 - result.confidence, color=GREY, linewidth=1, linestyle="--")
    above.set_yscale("log")
    plain_axis(above.yaxis)
    above.set_ylabel("end where P\nis at most", color=INK)
    below.plot(trays, [100 * row.ended for row in result.rows], "o-", color=COLOURS[0], label="difference as expected")
    below.plot(trays, [100 * row.alarms for row in result.rows], "s--", color=COLOURS[1], label="no difference")
    below.set_ylim(0, 102)
    below.set_ylabel("trials of 100\nended", color=INK)
    below.set_xlabel("trays of each level read", color=INK)
    key_of(below)
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=10)
    below.set_xticks(trays)
    return figure


@marks("Bars: trials of 100 that end with a difference shown, by what is assumed of the trays to come.")
def chances(result: Result) -> Figure:
    """Trials of a hundred that end with a difference shown, for each assumption about the trays to come."""
    rows = result.rows
    figure, axes = one_panel(6.0, 1.2 + 0.42 * len(rows))
    for at, row in enumerate(rows):
        axes.barh([at], [100 * row.chance], height=0.6, color=COLOURS[at % len(COLOURS)])
        share = f"{100 * row.chance:.0f}"
        axes.annotate(share, (100 * row.chance, at), xytext=(4, 0), textcoords="offset points", va="center", fontsize=9)
    axes.set_yticks(range(len(rows)), [row.assumed for row in rows])
    axes.invert_yaxis()
    axes.set_xlim(0, 110)
    axes.set_xlabel("trials of 100 that end with a difference shown", color=INK)
    return figure


@marks("Above: takes expected. Below: trays at each strength in either layout.")
def strengths(result: Result) -> Figure:
    """Trays at each strength for either layout, beside the takes expected."""
    from rootling._figures.paper import PaperFigure

    figure = PaperFigure(figsize=(6.8, 4.6), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True)
    taken = sorted({(own.strength, own.take) for layout in result.layouts for own in layout.strengths})
    names = [one for one, _ in taken]
    # Strengths stand at equal steps, so no line is drawn: it would bend the curve.
    above.plot(range(len(taken)), [100 * take for _, take in taken], "o", color=COLOURS[0], markersize=7)
    above.set_ylim(0, 100)
    above.set_ylabel("take expected, %", color=INK)
    width = 0.8 / len(result.layouts)
    for at, layout in enumerate(result.layouts):
        places = [names.index(own.strength) + (at - (len(result.layouts) - 1) / 2) * width for own in layout.strengths]
        label = f"{layout.layout}: {100 * layout.located:.0f} of 100 trials locate the best"
        trays = [own.trays for own in layout.strengths]
        below.bar(places, trays, width=width, color=COLOURS[at % len(COLOURS)], label=label, hatch="//" if at else None)
    below.set_ylabel("trays", color=INK)
    below.set_xticks(range(len(names)), [f"{one:g}" for one in names])
    below.set_xlabel(f"strength, {result.unit}" if result.unit else "strength", color=INK)
    key_of(figure, loc="outside upper left")
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=10)
    return figure
