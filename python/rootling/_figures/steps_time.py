"""Figures of time to roots: shares over the visits, and levels compared."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.style import FAINT, INK, LABEL, SMALL, TICK, WIDTH, as_text, look, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Levels beyond which bands would hide each other.
BANDS = 4
# Points of 100 by which names at the end of lines stay apart.
APART = 7.0


@marks("Steps: shares of all started so far; bands: {of}intervals; dotted: what can no longer.")
def time_course(result: Result) -> Figure:
    """Shares of all started so far as steps with bands, named at their ends; dotted: the share that can no longer."""
    figure, axes = one_panel(WIDTH, 4.6)
    ends = []
    for at, level in enumerate(result.levels):
        if not level.visits:
            continue
        colour = look(at)["color"]
        days = [0, *(visit.day for visit in level.visits)]
        values = [0.0, *(100 * visit.value for visit in level.visits)]
        axes.step(days, values, where="post", color=colour, linewidth=2.2)
        axes.plot(days[1:], values[1:], linestyle="none", markersize=5, **look(at))
        known = [visit for visit in level.visits if visit.low is not None]
        if known and len(result.levels) <= BANDS:
            lows, highs = [100 * visit.low for visit in known], [100 * visit.high for visit in known]
            axes.fill_between([visit.day for visit in known], lows, highs, step="post", color=colour, alpha=0.15, lw=0)
            # The limits of the last visit have no step of their own.
            axes.plot([known[-1].day] * 2, [lows[-1], highs[-1]], color=colour, linewidth=1.6)
        if result.deaths or result.event == "dead":
            others = [0.0, *(100 * visit.other for visit in level.visits)]
            axes.step(days, others, where="post", color=colour, linewidth=1.4, linestyle=":")
        name = result.event if result.treatment is None else as_text(f"{result.treatment} {level.level}")
        ends.append((values[-1], days[-1], name, colour))
    _names(axes, ends)
    axes.axhline(50, color=FAINT, linewidth=0.8)
    axes.set_ylim(-2, 103)
    axes.set_xlim(left=0)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=TICK)
    axes.set_xlabel("days since setting", color=INK, fontsize=LABEL)
    other = "rooted" if result.event == "dead" else "dead"
    dotted = f"\n(dotted: {other} so far)" if result.deaths or result.event == "dead" else ""
    axes.set_ylabel(f"{result.event} so far, % of all started{dotted}", color=INK, fontsize=SMALL)
    return figure


def _names(axes: Any, ends: list[tuple[float, float, str, str]]) -> None:
    """Names at the ends of lines, moved apart where they would lie on each other."""
    ends = sorted(ends)
    places = [value for value, _, _, _ in ends]
    for at in range(1, len(places)):
        places[at] = max(places[at], places[at - 1] + APART)
    for at in reversed(range(len(places))):
        places[at] = min(places[at], 100 - APART * (len(places) - 1 - at))
    for place, (_, day, name, colour) in zip(places, ends, strict=True):
        axes.annotate(
            name, (day, place), xytext=(7, 0), textcoords="offset points", va="center", color=colour, fontsize=SMALL
        )


@marks("Marks: differences by the day below; lines: {of}intervals; beside them the ratio of rates with its limits.")
def times_compared(result: Result) -> Figure:
    """The difference of shares of each pair with its limits, and the ratio of rates beside it."""
    pairs = list(result.pairs)
    figure, axes = one_panel(WIDTH, 1.7 + 0.7 * len(pairs))
    names = []
    for at, pair in enumerate(pairs):
        names.append(f"{as_text(pair.second)}\nagainst {as_text(pair.first)}")
        if pair.low is not None:
            axes.plot([100 * pair.low, 100 * pair.high], [at, at], color=look(at)["color"], linewidth=2.2)
        axes.plot([100 * pair.value], [at], markersize=8, linestyle="none", **look(at))
        told = "rates not known" if pair.rate.value is None else f"{pair.rate.value:.2g} x the rate"
        if pair.rate.low is not None:
            told += f" ({pair.rate.low:.2g} to {pair.rate.high:.2g})"
        axes.annotate(told, (100 * pair.value, at), xytext=(0, 9), textcoords="offset points", ha="center", fontsize=10)
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.7)
    axes.margins(x=0.25)
    axes.tick_params(labelsize=TICK)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    days = sorted({pair.day for pair in pairs})
    when = f"by day {days[0]}" if len(days) == 1 else f"by day {days[0]} to {days[-1]}"
    label = f"more {result.event} of 100 started {when},\n{as_text(result.treatment)}: second less first"
    axes.set_xlabel(label, color=INK, fontsize=SMALL)
    return figure
