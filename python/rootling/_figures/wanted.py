"""What is asked of a curve: strengths for a take, distances of curves, strengths to try next."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.room import across
from rootling._figures.strengths import StrengthAxis, below, strength_text, strength_ticks
from rootling._figures.style import (
    FAINT,
    INK,
    as_text,
    key_of,
    look,
    one_panel,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


@marks(
    "Marks: strengths for the wanted {name}; lines: {of}intervals; arrows: no limit on that side (open: "
    "{the_take} may never be reached)."
)
def strengths_for(result: Result) -> Figure:
    """Strengths for the wanted take, one line per curve and method, with strength 0 behind the break of the axis."""
    said = outcomes.words_of(result)
    ways = {"profile": "", "delta": ", rough: by the slope alone", "fieller": ", straight line (Fieller)"}
    rows = [(f"{row.curve}{ways[row.method]}", row.value, row.low, row.high) for row in result.rows]
    known = sorted({x for _, *values in rows for x in values if x is not None and x < math.inf})
    positive = [x for x in known if x > 0] or [1.0]
    # Room to both sides: an end that is open has an arrow there.
    axis = StrengthAxis([*known, positive[0] / 1.4, positive[-1] * 1.4])
    longest = max((len(row[0]) for row in rows), default=0)
    width = min(11.0, 4.8 + 0.07 * longest)
    never = [row.or_never and row.high < math.inf for row in result.rows]
    figure, axes = one_panel(width, 1.4 + 0.4 * len(rows) + 0.25 * any(never))
    for at, (_, value, low, high) in enumerate(rows):
        style = look(0)
        right = axis.high if high == math.inf else axis.place(high)
        axes.plot([axis.place(low), right], [at, at], color=style["color"], linewidth=2)
        if value is not None:
            axes.plot([axis.place(value)], [at], markersize=8, linestyle="none", **style)
        if high == math.inf or never[at]:
            fill: dict[str, Any] = {"markerfacecolor": "none"} if never[at] else {}
            axes.plot([right], [at], color=style["color"], marker=">", markersize=7, **fill)
        if value == 0 and high <= 0:
            axes.annotate("  strength 0 reaches it", (axis.place(0), at), va="center", fontsize=9, color=INK)
    if any(never):
        below(figure, f"Open arrow: {said['the_take']} may never be reached, at whatever strength.", width)
    shown: list[float] = []
    for strength in known or positive:
        if not shown or axis.place(strength) - axis.place(shown[-1]) > 0.08 * axis.span:
            shown.append(strength)
    unit = f", {as_text(result.unit)}" if result.unit else ""
    strength_ticks(axes, axis, shown, f"strength for {100 * result.take:g} {said['per_hundred']}{unit} (log axis)")
    axes.set_yticks(range(len(rows)), [as_text(row[0]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    return figure


def _differences_told(result: Result) -> str:
    if getattr(result, "takes", ()):
        return "Marks: {rates} at each strength; bars: {of}intervals. No one distance describes these curves."
    return "Marks: estimates on a log axis; lines: {of}intervals, with an arrow where there is no limit; dashed: 1."


@marks(_differences_told)
def curve_differences(result: Result) -> Figure:
    """Each curve's distance from the first: the strength it needs for the same take, odds ratio, or factor of (d + d0).

    Where bays carry the level there are no distances along the strengths: heights are drawn. Where no distance
    describes the curves, the rates of their strengths are drawn.
    """
    if getattr(result, "takes", ()):
        return _takes_side_by_side(result)
    rows: list[tuple[str, float | None, float, float]] = []
    measure = needed = f"ratio of strengths needed for the same {outcomes.words_of(result)['name']}"
    for one in result.distances or result.heights:
        shift = one.measure.startswith("shift")
        value, low, high = (math.exp(x) if shift else x for x in (one.value, one.low, one.high))
        measure = "factor of (strength + d0)" if shift else one.measure
        if one.measure == "relative potency":
            # That is the strength of the first over that of this curve.
            measure = needed
            value, low, high = (1 / x if x > 0 else math.inf for x in (value, high, low))
        rows.append((f"{one.curve} against {one.against}", value, low, high))
    return _forest(rows, f"{measure} (log axis)", 1.0)


@marks(
    "Marks: strengths to try, larger for more {units}, whose number stands beside them; open marks lie beyond "
    "the tested range."
)
def next_strengths(result: Result) -> Figure:
    """Trays of the next trial: one line per curve and purpose, a mark per strength with its number of trays."""
    rows = [(curve, design) for curve in result.curves for design in curve.designs]
    strengths = sorted({one.strength for _, design in rows for one in design.strengths})
    axis = StrengthAxis(strengths)
    wide = across(2, 2.5) > 1
    figure, axes = one_panel(8.6, 2.1 + (0.7 if wide else 1.05) * len(rows))
    for at, (_, design) in enumerate(rows):
        style = look(0 if design.criterion == "best strength" else 1)
        last, above = -math.inf, True
        for one in design.strengths:
            size, place = 5 + 3 * math.sqrt(one.n_units), axis.place(one.strength)
            fill = {"markerfacecolor": "none"} if one.outside else {}
            axes.plot([place], [at], markersize=size, linestyle="none", **{**style, **fill})
            # Neighbours too near for two labels side by side have theirs above and below.
            above = not above if place - last < (0.17 if wide else 0.3) * axis.span else True
            said, last = f"{one.n_units} at{' ' if wide else chr(10)}{strength_text(one.strength)}", place
            lift: dict[str, Any] = {"ha": "center", "va": "bottom" if above else "top", "fontsize": 8}
            axes.annotate(said, (place, at + (-0.2 if above else 0.2)), **lift)
    unit = f", {as_text(result.unit)}" if result.unit else ""
    apart: list[float] = []
    for strength in strengths:
        if not apart or axis.place(strength) - axis.place(apart[-1]) > 0.06 * axis.span:
            apart.append(strength)
    strength_ticks(axes, axis, apart, f"strength{unit}")
    several = len(result.curves) > 1
    named = [f"{as_text(curve.name)}: " if several else "" for curve, _ in rows]
    axes.set_yticks(
        range(len(rows)), [f"{name}{design.criterion}" for name, (_, design) in zip(named, rows, strict=True)]
    )
    axes.set_ylim(len(rows) - 0.5, -0.7)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    units = outcomes.plural(outcomes.called_of(result))
    below(figure, f"Numbers: {units} at a strength. Open marks: beyond the tested range.", 8.6)
    return figure


def _takes_side_by_side(result: Result) -> Figure:
    """The rates of each curve's strengths with intervals, for curves that no one distance describes."""
    axis = StrengthAxis(sorted({one.strength for own in result.takes for one in own}))
    figure, axes = one_panel(8.0, 4.4)
    aside = 0.02 * axis.span
    for at, (name, own) in enumerate(zip(result.names, result.takes, strict=True)):
        places = [axis.place(one.strength) + aside * (at - (len(result.takes) - 1) / 2) for one in own]
        beneath = [100 * (one.value - one.low) for one in own]
        above = [100 * (one.high - one.value) for one in own]
        values = [100 * one.value for one in own]
        axes.errorbar(places, values, yerr=[beneath, above], label=as_text(name), capsize=3, **look(at))
    said = outcomes.words_of(result)
    strength_ticks(axes, axis, sorted({one.strength for own in result.takes for one in own}), "strength (log axis)")
    axes.set_ylim(-3, 103)
    axes.set_ylabel(f"{said['of_stuck']}, %", color=INK)
    key_of(axes)
    below(figure, "No one distance describes these curves: their strengths stand side by side.", 8.0)
    return figure


def _forest(rows: list[tuple[str, float | None, float, float]], label: str, line: float | None) -> Figure:
    """Estimates with intervals on a log axis; arrows where an end is open."""
    from rootling._figures.ticks import ratio_axis

    longest = max((len(row[0]) for row in rows), default=0)
    figure, axes = one_panel(min(11.0, 4.8 + 0.07 * longest), 1.4 + 0.4 * len(rows))
    known = [x for _, *values in rows for x in values if x is not None and 0 < x < math.inf]
    left, right = min(known, default=0.5) / 1.4, max(known, default=2.0) * 1.4
    for at, (_, value, low, high) in enumerate(rows):
        style = look(0)
        axes.plot([max(low, left), min(high, right)], [at, at], color=style["color"], linewidth=2)
        if value is not None and value > 0:
            axes.plot([value], [at], markersize=8, linestyle="none", **style)
        if low < left:
            axes.plot([left], [at], color=style["color"], marker="<", markersize=7)
        if high > right:
            axes.plot([right], [at], color=style["color"], marker=">", markersize=7)
    if line is not None:
        axes.axvline(line, color=INK, linewidth=1, linestyle="--")
    axes.set_xscale("log")
    axes.set_xlim(left / 1.1, right * 1.1)
    ratio_axis(axes.xaxis)
    axes.set_yticks(range(len(rows)), [as_text(row[0]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel(label, color=INK)
    return figure
