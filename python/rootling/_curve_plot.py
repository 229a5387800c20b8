"""Figures of strength curves: a log axis with strength 0 behind a break."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

from rootling import _outcome, _plots

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Numbers, Result

# Height of the marks below 0 %: the best strength and the range that is not shown to be worse.
BEST_AT, RANGE_AT, FLOOR = -6.5, -12.5, -17.0
# Labels of more strengths than this are turned, by so many degrees.
SEVERAL, CROWDED = 7, 40.0


class _Axis:
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


def _number(value: float) -> str:
    if value >= 1000:
        return f"{value:.0f}"
    return f"{value:.3g}"


def _ticks(axes: Axes, axis: _Axis, strengths: list[float], label: str) -> None:
    from rootling._fitting_ticks import strength_axis

    labels = {axis.place(strength): _number(strength) for strength in strengths}
    turned = CROWDED if len(labels) > SEVERAL else 0.0
    strength_axis(axes.xaxis, labels, turned=turned)
    axes.tick_params(axis="x", rotation=turned)
    axes.set_xlim((axis.zero if axis.has_zero else axis.low) - 0.07 * axis.span, axis.high + 0.07 * axis.span)
    axes.set_xlabel(label, color=_plots.INK)
    if axis.has_zero:
        for shift in (-0.008, 0.008):
            axes.plot(
                [axis.cut + (shift - 0.006) * axis.span, axis.cut + (shift + 0.006) * axis.span],
                [-0.02, 0.02],
                transform=axes.get_xaxis_transform(),
                color=_plots.INK,
                linewidth=1.2,
                clip_on=False,
                zorder=5,
            )


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
    name = _plots._plain(column.replace("_", " "))
    measure, _, of = unit.partition(" ")
    if of and unit.casefold() not in name.casefold():
        # "ppm" in the name of the column is the "ppm w/v" that was declared.
        parts = [unit if part.casefold() == measure.casefold() else part for part in name.split(" ")]
        name = _plots._plain(" ".join(parts))
    substance = strength.substance if strength is not None and isinstance(strength.substance, str) else ""
    method = f"({strength.method})" if strength is not None and strength.method else ""
    known = name.casefold()
    named = " ".join(part for part in (unit, substance) if unit and part and part.casefold() not in known)
    head = f"{name}, {_plots._plain(named)}" if named else name
    return f"{head} {_plots._plain(method)}" if unit and method and method.casefold() not in known else head


def _line(axes: Axes, axis: _Axis, line: Numbers, colour: str) -> None:
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


def _points(axes: Axes, axis: _Axis, curve: Numbers, trays: tuple[Numbers, ...], style: dict[str, Any]) -> None:
    """Trays as open marks, strengths' own takes with intervals as filled ones."""
    aside = 0.014 * axis.span
    seen: dict[float, int] = {}
    several = any(level.n_units > 1 for level in curve.strengths)
    for tray in trays if several else ():
        turn = seen[tray.strength] = seen.get(tray.strength, -1) + 1
        axes.plot(
            [axis.place(tray.strength) - aside * (1.2 + 0.6 * (turn % 3))],
            [100 * tray.rooted / tray.stuck],
            linestyle="none",
            marker=style["marker"],
            markersize=4.5,
            markerfacecolor="none",
            markeredgecolor=style["color"],
            markeredgewidth=0.9,
            alpha=0.8,
        )
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


def _span(axes: Axes, axis: _Axis, height: float, ends: tuple[float, float], style: dict[str, Any]) -> None:
    axes.plot([axis.place(ends[0]), axis.place(ends[1])], [height, height], solid_capstyle="butt", **style)


def _best(axes: Axes, axis: _Axis, best: Numbers, style: dict[str, Any]) -> None:
    """The best strength with its interval (arrows: not located there), and the range that is not shown to be worse."""
    colour = style["color"]
    _span(axes, axis, RANGE_AT, (best.range_low, best.range_high), {"color": _plots.FAINT, "linewidth": 6})
    strength = best.strength
    _span(axes, axis, BEST_AT, (strength.low, strength.high), {"color": colour, "linewidth": 2.2})
    axes.plot([axis.place(strength.value)], [BEST_AT], markersize=7, linestyle="none", **style)
    for is_open, end, mark in (
        (strength.open_low, strength.low, "<"),
        (strength.open_high, strength.high, ">"),
    ):
        if is_open:
            axes.plot([axis.place(end)], [BEST_AT], marker=mark, color=colour, markersize=7, linestyle="none")


def _panel(axes: Axes, axis: _Axis, curve: Numbers, trays: tuple[Numbers, ...], at: int) -> None:
    style = _plots._style(at)
    axes.axhline(0, color=_plots.FAINT, linewidth=0.8)
    if not curve.all_alike:
        _line(axes, axis, curve.line, style["color"])
    # What the curve does not state is not drawn either; one that is not located has its arrows.
    if curve.best.withheld in (None, "not-located"):
        _best(axes, axis, curve.best, style)
    _points(axes, axis, curve, trays, style)


CLOSING = (
    "Holds within the tested range, for this cultivar, this season only. "
    "Growth regulators are regulated: read the product label and the local register; trial a small batch first."
)
CAUTION = (
    "Open marks: single {units}; filled marks: strengths with intervals; line and band: curve averaged over shapes. "
    "Below 0: best strength with interval (arrow: not located on that side); grey: strengths not shown to be worse "
    "than the best by more than {margin:g} {per_hundred}. "
) + CLOSING


def _caption(figure: Figure, text: str, width: float) -> None:
    """Text below a figure, in a size that can be read where the figure is shown at its own size."""
    figure.supxlabel(textwrap.fill(text, int(13.5 * width)), fontsize=9, color=_plots.INK, x=0.01, ha="left")


def _panels(result: Result, draw: Callable[[Axes, _Axis, int], None], label: str, text: str) -> Figure:
    """One panel per curve on a shared axis of strengths, with the caution below."""
    from rootling._figure import PaperFigure

    curves = result.curves
    columns = min(3, len(curves))
    rows = math.ceil(len(curves) / columns)
    width = 2.2 + 4.0 * columns
    lines = math.ceil(len(text) / (13 * width))
    figure = PaperFigure(figsize=(width, 0.4 + 3.7 * rows + 0.17 * lines), layout="constrained")
    panels = figure.subplots(rows, columns, squeeze=False, sharey=True)
    strengths = sorted({level.strength for curve in curves for level in curve.strengths})
    axis = _Axis(strengths)
    given = result.input
    name = _strength_label(given.options.column, given.unit, given.strength)
    for at, axes in enumerate(panels.flat):
        if at >= len(curves):
            axes.set_visible(False)
            continue
        draw(axes, axis, at)
        axes.set_ylim(FLOOR, 103)
        axes.set_yticks([0, 20, 40, 60, 80, 100])
        axes.grid(axis="y", color=_plots.FAINT, linewidth=0.6)
        axes.set_axisbelow(True)
        _ticks(axes, axis, strengths, name)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=_plots.INK, labelsize=9)
        if len(curves) > 1:
            axes.set_title(_plots._plain(curves[at].name), fontsize=11, color=_plots.INK)
        if at % columns == 0:
            axes.set_ylabel(label, color=_plots.INK)
    _caption(figure, text, width)
    return figure


def strength_curve(result: Result) -> Figure:
    """One panel per curve: trays, strengths, curve with band, best strength, range not shown to be worse."""
    groups = result.input.groups

    def draw(axes: Axes, axis: _Axis, at: int) -> None:
        _panel(axes, axis, result.curves[at], groups[at].trays, at)

    said = _outcome.words_of(result)
    units = _outcome.plural(_outcome.called_of(result))
    caution = CAUTION.format(units=units, margin=100 * result.input.options.nearly, per_hundred=said["per_hundred"])
    return _panels(result, draw, f"{said['of_stuck']}, %", caution)


DAMAGE = (
    "Open marks: deaths in single {units}; filled marks: deaths at strengths with intervals; line and band: deaths "
    "averaged over shapes; dashed: rooted of survivors. Below 0: strength at which deaths have risen by {rise:g} trees "
    "per 100, with interval (arrow: not located on that side). "
)


def _damage(axes: Axes, axis: _Axis, curve: Numbers, trays: tuple[Numbers, ...]) -> None:
    style, other = _plots._style(1), _plots._style(0)
    axes.axhline(0, color=_plots.FAINT, linewidth=0.8)
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
    _span(axes, axis, BEST_AT, (low, high), {"color": style["color"], "linewidth": 2.2})
    if threshold.value is not None:
        axes.plot([axis.place(threshold.value)], [BEST_AT], markersize=7, linestyle="none", **style)
    if is_open:
        axes.plot([axis.place(highest)], [BEST_AT], marker=">", color=style["color"], markersize=7, linestyle="none")


def damage_threshold(result: Result) -> Figure:
    """One panel per curve: deaths with their threshold, and rooted among survivors."""
    groups = result.input.groups

    def draw(axes: Axes, axis: _Axis, at: int) -> None:
        _damage(axes, axis, result.curves[at], groups[at].trays)

    from matplotlib.lines import Line2D

    text = DAMAGE.format(units=_outcome.plural(_outcome.called_of(result)), rise=100 * result.rise) + CLOSING
    figure = _panels(result, draw, "dead of stuck, %", text)
    if any(curve.survivors is not None and not curve.survivors.all_alike for curve in result.curves):
        lines = [
            Line2D([], [], color=_plots._style(1)["color"], linewidth=2, label="dead of stuck"),
            Line2D([], [], color=_plots._style(0)["color"], linewidth=1.8, linestyle="--", label="rooted of survivors"),
        ]
        figure.legend(handles=lines, loc="outside upper right", ncols=2, frameon=False, fontsize=9)
    return figure


def _forest(rows: list[tuple[str, float | None, float, float]], label: str, line: float | None) -> Figure:
    """Estimates with intervals on a log axis; arrows where an end is open."""
    from rootling._fitting_ticks import ratio_axis

    longest = max((len(row[0]) for row in rows), default=0)
    figure, axes = _plots._axes(min(11.0, 4.8 + 0.07 * longest), 1.4 + 0.4 * len(rows))
    known = [x for _, *values in rows for x in values if x is not None and 0 < x < math.inf]
    left, right = min(known, default=0.5) / 1.4, max(known, default=2.0) * 1.4
    for at, (_, value, low, high) in enumerate(rows):
        style = _plots._style(0)
        axes.plot([max(low, left), min(high, right)], [at, at], color=style["color"], linewidth=2)
        if value is not None and value > 0:
            axes.plot([value], [at], markersize=8, linestyle="none", **style)
        if low < left:
            axes.plot([left], [at], color=style["color"], marker="<", markersize=7)
        if high > right:
            axes.plot([right], [at], color=style["color"], marker=">", markersize=7)
    if line is not None:
        axes.axvline(line, color=_plots.INK, linewidth=1, linestyle="--")
    axes.set_xscale("log")
    axes.set_xlim(left / 1.1, right * 1.1)
    ratio_axis(axes.xaxis)
    axes.set_yticks(range(len(rows)), [_plots._plain(row[0]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel(label, color=_plots.INK)
    return figure


def strengths_for(result: Result) -> Figure:
    """Strengths for the wanted take, one line per curve and method, with strength 0 behind the break of the axis."""
    said = _outcome.words_of(result)
    ways = {"profile": "", "delta": ", rough: by the slope alone", "fieller": ", straight line (Fieller)"}
    rows = [(f"{row.curve}{ways[row.method]}", row.value, row.low, row.high) for row in result.rows]
    known = sorted({x for _, *values in rows for x in values if x is not None and x < math.inf})
    positive = [x for x in known if x > 0] or [1.0]
    # Room to both sides: an end that is open has an arrow there.
    axis = _Axis([*known, positive[0] / 1.4, positive[-1] * 1.4])
    longest = max((len(row[0]) for row in rows), default=0)
    width = min(11.0, 4.8 + 0.07 * longest)
    never = [row.or_never and row.high < math.inf for row in result.rows]
    figure, axes = _plots._axes(width, 1.4 + 0.4 * len(rows) + 0.25 * any(never))
    for at, (_, value, low, high) in enumerate(rows):
        style = _plots._style(0)
        right = axis.high if high == math.inf else axis.place(high)
        axes.plot([axis.place(low), right], [at, at], color=style["color"], linewidth=2)
        if value is not None:
            axes.plot([axis.place(value)], [at], markersize=8, linestyle="none", **style)
        if high == math.inf or never[at]:
            fill: dict[str, Any] = {"markerfacecolor": "none"} if never[at] else {}
            axes.plot([right], [at], color=style["color"], marker=">", markersize=7, **fill)
        if value == 0 and high <= 0:
            axes.annotate("  strength 0 reaches it", (axis.place(0), at), va="center", fontsize=9, color=_plots.INK)
    if any(never):
        _caption(figure, f"Open arrow: {said['the_take']} may never be reached, at whatever strength.", width)
    shown: list[float] = []
    for strength in known or positive:
        if not shown or axis.place(strength) - axis.place(shown[-1]) > 0.08 * axis.span:
            shown.append(strength)
    unit = f", {_plots._plain(result.unit)}" if result.unit else ""
    _ticks(axes, axis, shown, f"strength for {100 * result.take:g} {said['per_hundred']}{unit} (log axis)")
    axes.set_yticks(range(len(rows)), [_plots._plain(row[0]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    return figure


def _takes_side_by_side(result: Result) -> Figure:
    """The rates of each curve's strengths with intervals, for curves that no one distance describes."""
    axis = _Axis(sorted({one.strength for own in result.takes for one in own}))
    figure, axes = _plots._axes(8.0, 4.4)
    aside = 0.02 * axis.span
    for at, (name, own) in enumerate(zip(result.names, result.takes, strict=True)):
        places = [axis.place(one.strength) + aside * (at - (len(result.takes) - 1) / 2) for one in own]
        below = [100 * (one.value - one.low) for one in own]
        above = [100 * (one.high - one.value) for one in own]
        values = [100 * one.value for one in own]
        axes.errorbar(places, values, yerr=[below, above], label=_plots._plain(name), capsize=3, **_plots._style(at))
    said = _outcome.words_of(result)
    _ticks(axes, axis, sorted({one.strength for own in result.takes for one in own}), "strength (log axis)")
    axes.set_ylim(-3, 103)
    axes.set_ylabel(f"{said['of_stuck']}, %", color=_plots.INK)
    axes.legend(frameon=False, fontsize=9)
    _caption(figure, "No one distance describes these curves: their strengths stand side by side.", 8.0)
    return figure


def curve_differences(result: Result) -> Figure:
    """Each curve's distance from the first: the strength it needs for the same take, odds ratio, or factor of (d + d0).

    Where bays carry the level there are no distances along the strengths: heights are drawn. Where no distance
    describes the curves, the rates of their strengths are drawn.
    """
    if getattr(result, "takes", ()):
        return _takes_side_by_side(result)
    rows: list[tuple[str, float | None, float, float]] = []
    measure = needed = f"ratio of strengths needed for the same {_outcome.words_of(result)['name']}"
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


def next_strengths(result: Result) -> Figure:
    """Trays of the next trial: one line per curve and purpose, a mark per strength with its number of trays."""
    rows = [(curve, design) for curve in result.curves for design in curve.designs]
    strengths = sorted({one.strength for _, design in rows for one in design.strengths})
    axis = _Axis(strengths)
    figure, axes = _plots._axes(8.6, 2.1 + 0.7 * len(rows))
    for at, (_, design) in enumerate(rows):
        style = _plots._style(0 if design.criterion == "best strength" else 1)
        last, above = -math.inf, True
        for one in design.strengths:
            size, place = 5 + 3 * math.sqrt(one.n_units), axis.place(one.strength)
            fill = {"markerfacecolor": "none"} if one.outside else {}
            axes.plot([place], [at], markersize=size, linestyle="none", **{**style, **fill})
            # Neighbours too near for two labels side by side have theirs above and below.
            above = not above if place - last < 0.17 * axis.span else True
            said, last = f"{one.n_units} at {_number(one.strength)}", place
            axes.annotate(said, (place, at + (-0.3 if above else 0.42)), ha="center", fontsize=8)
    unit = f", {_plots._plain(result.unit)}" if result.unit else ""
    apart: list[float] = []
    for strength in strengths:
        if not apart or axis.place(strength) - axis.place(apart[-1]) > 0.06 * axis.span:
            apart.append(strength)
    _ticks(axes, axis, apart, f"strength{unit}")
    several = len(result.curves) > 1
    named = [f"{_plots._plain(curve.name)}: " if several else "" for curve, _ in rows]
    axes.set_yticks(
        range(len(rows)), [f"{name}{design.criterion}" for name, (_, design) in zip(named, rows, strict=True)]
    )
    axes.set_ylim(len(rows) - 0.5, -0.7)
    axes.grid(axis="y", color=_plots.FAINT, linewidth=0.6)
    units = _outcome.plural(_outcome.called_of(result))
    _caption(figure, f"Numbers: {units} at a strength. Open marks: beyond the tested range. " + CLOSING, 8.6)
    return figure
