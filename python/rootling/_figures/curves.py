"""Strength curves and deaths along the strengths, one panel per curve."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rootling._figures.beside import beside, drawn, room_of
from rootling._figures.captions import marks
from rootling._figures.room import across
from rootling._figures.strengths import StrengthAxis, below, span, strength_ticks
from rootling._figures.style import (
    FAINT,
    INK,
    as_text,
    key_of,
    look,
)
from rootling._words import outcomes, shapes_told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Numbers, Result


# Height of the marks below 0 %: the best strength and the range that is not shown to be worse.
BEST_AT, RANGE_AT, FLOOR = -6.5, -12.5, -17.0
# Trays that stand side by side before they become one mark with its count.
SLOTS = 3


CURVE = (
    "Open marks: single {units}; filled marks: strengths with intervals; line and band: {curve}. "
    "Below 0: best strength with interval (arrow: not located on that side); grey: strengths not shown to be worse "
    "than the best by more than {margin:g} {per_hundred}."
)


DAMAGE = (
    "Open marks: deaths in single {units}; filled marks: deaths at strengths with intervals; line and band: deaths "
    "averaged over shapes; dashed: rooted of survivors. Below 0: strength at which deaths have risen by {rise:g} trees "
    "per 100, with interval (arrow: not located on that side)."
)


def _curve_told(result: Result) -> str:
    units, words = outcomes.plural(outcomes.called_of(result)), outcomes.words_of(result)
    margin = 100 * result.input.options.nearly
    return CURVE.format(units=units, curve=_averaged(result), margin=margin, per_hundred=words["per_hundred"])


def _averaged(result: Result) -> str:
    """Which shapes a curve is the average of, with their weights."""
    told = [(curve.name, shapes_told(curve.shapes)) for curve in result.curves]
    shapes = list(dict.fromkeys(shape for _, shape in told))
    said = shapes[0] if len(shapes) == 1 else "; ".join(f"{as_text(name)} {shape}" for name, shape in told)
    return f"curve averaged over shapes ({said})" if "%" in said else f"curve of the shape {said}"


def _damage_told(result: Result) -> str:
    return DAMAGE.format(units=outcomes.plural(outcomes.called_of(result)), rise=100 * result.rise)


@marks(_curve_told)
def strength_curve(result: Result) -> Figure:
    """One panel per curve: trays, strengths, curve with band, best strength, range not shown to be worse."""
    groups = result.input.groups

    def draw(axes: Axes, axis: StrengthAxis, at: int) -> None:
        _panel(axes, axis, result.curves[at], groups[at].trays, at)

    return _panels(result, draw, f"{outcomes.words_of(result)['of_stuck']}, %", _curve_told(result))


@marks(_damage_told)
def damage_threshold(result: Result) -> Figure:
    """One panel per curve: deaths with their threshold, and rooted among survivors."""
    groups = result.input.groups

    def draw(axes: Axes, axis: StrengthAxis, at: int) -> None:
        _damage(axes, axis, result.curves[at], groups[at].trays)

    from matplotlib.lines import Line2D

    figure = _panels(result, draw, "dead of stuck, %", _damage_told(result))
    if any(curve.survivors is not None and not curve.survivors.all_alike for curve in result.curves):
        lines = [
            Line2D([], [], color=look(1)["color"], linewidth=2, label="dead of stuck"),
            Line2D([], [], color=look(0)["color"], linewidth=1.8, linestyle="--", label="rooted of survivors"),
        ]
        key_of(figure, handles=lines, loc="outside upper right", ncols=2)
    return figure


def _panels(result: Result, draw: Callable[[Axes, StrengthAxis, int], None], label: str, text: str) -> Figure:
    """One panel per curve on a shared axis of strengths; below, what the marks are."""
    from rootling._figures.paper import PaperFigure

    curves = result.curves
    columns = across(min(3, len(curves)), 2.3)
    rows = math.ceil(len(curves) / columns)
    width = 2.2 + 4.0 * columns
    lines = math.ceil(len(text) / (13 * width))
    figure = PaperFigure(figsize=(width, 0.4 + 3.7 * rows + 0.17 * lines), layout="constrained")
    panels = figure.subplots(rows, columns, squeeze=False, sharey=True)
    strengths = sorted({level.strength for curve in curves for level in curve.strengths})
    axis = StrengthAxis(strengths)
    given = result.input
    name = _strength_label(given.options.column, given.unit, given.strength)
    for at, axes in enumerate(panels.flat):
        if at >= len(curves):
            axes.set_visible(False)
            continue
        draw(axes, axis, at)
        axes.set_ylim(FLOOR, 103)
        axes.set_yticks([0, 20, 40, 60, 80, 100])
        axes.grid(axis="y", color=FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
        strength_ticks(axes, axis, strengths, name)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=9)
        if len(curves) > 1:
            axes.set_title(as_text(curves[at].name), fontsize=11, color=INK)
        if at % columns == 0:
            axes.set_ylabel(label, color=INK)
    below(figure, text, width)
    return figure


def _panel(axes: Axes, axis: StrengthAxis, curve: Numbers, trays: tuple[Numbers, ...], at: int) -> None:
    style = look(at)
    axes.axhline(0, color=FAINT, linewidth=0.8)
    if not curve.all_alike:
        _line(axes, axis, curve.line, style["color"])
    # What the curve does not state is not drawn either; one that is not located has its arrows.
    if curve.best.withheld in (None, "not-located"):
        _best(axes, axis, curve.best, style)
    _points(axes, axis, curve, trays, style)


def _damage(axes: Axes, axis: StrengthAxis, curve: Numbers, trays: tuple[Numbers, ...]) -> None:
    style, other = look(1), look(0)
    axes.axhline(0, color=FAINT, linewidth=0.8)
    _line(axes, axis, curve.line, style["color"])
    _points(axes, axis, curve, trays, style)
    if curve.survivors is not None and not curve.survivors.all_alike:
        line = curve.survivors.line
        shown = [at for at, strength in enumerate(line.strength) if strength > 0 and math.log10(strength) >= axis.cut]
        places = [axis.place(line.strength[at]) for at in shown]
        dashed = {"color": other["color"], "linestyle": "--", "linewidth": 1.8}
        axes.plot(places, [100 * line.value[at] for at in shown], **dashed)
        if axis.has_zero and line.strength[0] == 0:
            stub = [axis.zero - 0.03 * axis.span, axis.zero + 0.03 * axis.span]
            axes.plot(stub, [100 * line.value[0]] * 2, **{**dashed, "linestyle": (0, (2, 1))})
    threshold, highest = curve.threshold, curve.strengths[-1].strength
    if threshold.no_room:
        return
    is_open = threshold.high == math.inf
    low, high = threshold.low, highest if is_open else threshold.high
    span(axes, axis, BEST_AT, (low, high), {"color": style["color"], "linewidth": 2.2})
    if threshold.value is not None:
        axes.plot([axis.place(threshold.value)], [BEST_AT], markersize=7, linestyle="none", **style)
    if is_open:
        axes.plot([axis.place(highest)], [BEST_AT], marker=">", color=style["color"], markersize=7, linestyle="none")


def _strength_label(column: str, unit: str, strength: Numbers | None) -> str:
    """The head of an axis, "strength, mg/L IBA (quick dip)"; what the name of the column says is not said again.

    >>> _strength_label("strength_mg", "mg/L", None)
    'strength mg, mg/L'
    >>> _strength_label("Strength (mg/L)", "mg/L", None)
    'Strength (mg/L)'
    >>> _strength_label("IBA mg/l", "mg/L", None)
    'IBA mg/l'
    >>> _strength_label("IBA ppm", "ppm w/v", None)
    'IBA ppm w/v'
    """
    name = as_text(column.replace("_", " "))
    measure, _, of = unit.partition(" ")
    if of and unit.casefold() not in name.casefold():
        # "ppm" in the name of the column is the "ppm w/v" that was declared.
        parts = [unit if part.casefold() == measure.casefold() else part for part in name.split(" ")]
        name = as_text(" ".join(parts))
    substance = strength.substance if strength is not None and isinstance(strength.substance, str) else ""
    method = f"({strength.method})" if strength is not None and strength.method else ""
    known = name.casefold()
    named = " ".join(part for part in (unit, substance) if unit and part and part.casefold() not in known)
    head = f"{name}, {as_text(named)}" if named else name
    return f"{head} {as_text(method)}" if unit and method and method.casefold() not in known else head


def _line(axes: Axes, axis: StrengthAxis, line: Numbers, colour: str) -> None:
    """The band and the curve from the break on, and both at 0 as a stub."""
    shown = [at for at, strength in enumerate(line.strength) if strength > 0 and math.log10(strength) >= axis.cut]
    places = [axis.place(line.strength[at]) for at in shown]

    def percent(name: str) -> list[float]:
        return [100 * line[name][at] for at in shown]

    axes.fill_between(places, percent("low"), percent("high"), color=colour, alpha=0.16, linewidth=0)
    axes.plot(places, percent("value"), color=colour, linewidth=2)
    if axis.has_zero and line.strength[0] == 0:
        width = 0.03 * axis.span
        stub = [axis.zero - width, axis.zero + width]
        axes.fill_between(
            stub, [100 * line.low[0]] * 2, [100 * line.high[0]] * 2, color=colour, alpha=0.16, linewidth=0
        )
        axes.plot(stub, [100 * line.value[0]] * 2, color=colour, linewidth=2)


def _points(axes: Axes, axis: StrengthAxis, curve: Numbers, trays: tuple[Numbers, ...], style: dict[str, Any]) -> None:
    """Trays as open marks, strengths' own takes with intervals as filled ones."""
    aside = 0.014 * axis.span
    if any(level.n_units > 1 for level in curve.strengths):
        _trays(axes, axis, trays, style)
    for level in curve.strengths:
        axes.errorbar(
            [axis.place(level.strength) + 0.6 * aside],
            [100 * level.value],
            yerr=[[100 * (level.value - level.low)], [100 * (level.high - level.value)]],
            color=style["color"],
            marker=style["marker"],
            markersize=7,
            markeredgecolor="white",
            capsize=3,
            linewidth=1.3,
            zorder=4,
        )


def _trays(axes: Axes, axis: StrengthAxis, trays: tuple[Numbers, ...], style: dict[str, Any]) -> None:
    """Trays to the left of their strength, equal ones side by side, or as one mark with its count."""
    aside, size = 0.014 * axis.span, 4.5**2
    room = room_of(axes, size, (axis.span, 103 - FLOOR))
    look_of = {"edgecolors": style["color"], "marker": style["marker"], "s": size, "linewidths": 0.9, "alpha": 0.8}
    for strength in dict.fromkeys(tray.strength for tray in trays):
        rates = [100 * tray.rooted / tray.stuck for tray in trays if tray.strength == strength]
        place = axis.place(strength) - 1.2 * aside
        marks = [(place - slot * room.across, rate, count) for rate, slot, count in beside(rates, SLOTS, room.along)]
        drawn(axes, marks, 0, **look_of)


def _best(axes: Axes, axis: StrengthAxis, best: Numbers, style: dict[str, Any]) -> None:
    """The best strength with its interval (arrows: not located there), and the range that is not shown to be worse."""
    colour = style["color"]
    span(axes, axis, RANGE_AT, (best.range_low, best.range_high), {"color": FAINT, "linewidth": 6})
    strength = best.strength
    span(axes, axis, BEST_AT, (strength.low, strength.high), {"color": colour, "linewidth": 2.2})
    axes.plot([axis.place(strength.value)], [BEST_AT], markersize=7, linestyle="none", **style)
    for is_open, end, mark in (
        (strength.open_low, strength.low, "<"),
        (strength.open_high, strength.high, ">"),
    ):
        if is_open:
            axes.plot([axis.place(end)], [BEST_AT], marker=mark, color=colour, markersize=7, linestyle="none")
