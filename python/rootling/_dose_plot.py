"""Figures of strength curves: a log axis with strength 0 behind a break."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING, Any

from rootling import plots

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Figures, Result

# Height of the marks below 0 %: the best strength and the range that is not shown to be worse.
BEST_AT, RANGE_AT, FLOOR = -6.5, -12.5, -17.0


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
    places = [axis.place(strength) for strength in strengths]
    crowded = len(strengths) > 7
    axes.set_xticks(places, [_number(strength) for strength in strengths], rotation=40 if crowded else 0)
    axes.set_xlim((axis.zero if axis.has_zero else axis.low) - 0.07 * axis.span, axis.high + 0.07 * axis.span)
    axes.set_xlabel(label, color=plots.INK)
    if axis.has_zero:
        for shift in (-0.008, 0.008):
            axes.plot(
                [axis.cut + (shift - 0.006) * axis.span, axis.cut + (shift + 0.006) * axis.span],
                [-0.02, 0.02],
                transform=axes.get_xaxis_transform(),
                color=plots.INK,
                linewidth=1.2,
                clip_on=False,
                zorder=5,
            )


def _line(axes: Axes, axis: _Axis, line: Figures, colour: str) -> None:
    """The band and the curve from the break on, and both at 0 as a stub."""
    shown = [at for at, strength in enumerate(line.strength) if strength > 0 and math.log10(strength) >= axis.cut]
    places = [axis.place(line.strength[at]) for at in shown]

    def percent(name: str) -> list[float]:
        return [100 * line[name][at] for at in shown]

    axes.fill_between(places, percent("conf_low"), percent("conf_high"), color=colour, alpha=0.16, linewidth=0)
    axes.plot(places, percent("value"), color=colour, linewidth=2)
    if axis.has_zero and line.strength[0] == 0:
        width = 0.03 * axis.span
        stub = [axis.zero - width, axis.zero + width]
        axes.fill_between(
            stub, [100 * line.conf_low[0]] * 2, [100 * line.conf_high[0]] * 2, color=colour, alpha=0.16, linewidth=0
        )
        axes.plot(stub, [100 * line.value[0]] * 2, color=colour, linewidth=2)


def _points(axes: Axes, axis: _Axis, curve: Figures, trays: tuple[Figures, ...], style: dict[str, Any]) -> None:
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
            yerr=[[100 * (level.value - level.conf_low)], [100 * (level.conf_high - level.value)]],
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


def _best(axes: Axes, axis: _Axis, best: Figures, style: dict[str, Any]) -> None:
    """The best strength with its interval (arrows: not located there), and the range that is not shown to be worse."""
    colour = style["color"]
    _span(axes, axis, RANGE_AT, (best.range_low, best.range_high), {"color": plots.FAINT, "linewidth": 6})
    strength = best.strength
    _span(axes, axis, BEST_AT, (strength.conf_low, strength.conf_high), {"color": colour, "linewidth": 2.2})
    axes.plot([axis.place(strength.value)], [BEST_AT], markersize=7, linestyle="none", **style)
    for is_open, end, mark in (
        (strength.open_low, strength.conf_low, "<"),
        (strength.open_high, strength.conf_high, ">"),
    ):
        if is_open:
            axes.plot([axis.place(end)], [BEST_AT], marker=mark, color=colour, markersize=7, linestyle="none")


def _panel(axes: Axes, axis: _Axis, curve: Figures, trays: tuple[Figures, ...], at: int) -> None:
    style = plots._style(at)
    axes.axhline(0, color=plots.FAINT, linewidth=0.8)
    if not curve.all_alike:
        _line(axes, axis, curve.line, style["color"])
        _best(axes, axis, curve.best, style)
    _points(axes, axis, curve, trays, style)
    axes.set_ylim(FLOOR, 103)
    axes.set_yticks([0, 20, 40, 60, 80, 100])
    axes.grid(axis="y", color=plots.FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


CAUTION = (
    "Open marks: single trays; filled marks: strengths with intervals; line and band: curve averaged over shapes. "
    "Below 0: best strength with interval (arrow: not located on that side); grey: strengths not shown to be worse "
    "than the best by more than {margin:g} trees per 100. "
    "Holds within the tested range, for this cultivar, this season only. "
    "Growth regulators are regulated: read the product label and the local register; trial a small batch first."
)


def strength_curve(result: Result) -> Figure:
    """One panel per curve: trays, strengths, curve with band, best strength, range not shown to be worse."""
    from rootling._figure import PaperFigure

    curves, groups = result.curves, result.input.groups
    columns = min(3, len(curves))
    rows = math.ceil(len(curves) / columns)
    width = 2.2 + 4.0 * columns
    figure = PaperFigure(figsize=(width, 0.9 + 3.7 * rows), layout="constrained")
    panels = figure.subplots(rows, columns, squeeze=False, sharey=True)
    strengths = sorted({level.strength for curve in curves for level in curve.strengths})
    axis = _Axis(strengths)
    unit = result.input.unit
    label = plots._plain(result.input.options.column.replace("_", " ")) + (f", {plots._plain(unit)}" if unit else "")
    for at, axes in enumerate(panels.flat):
        if at >= len(curves):
            axes.set_visible(False)
            continue
        _panel(axes, axis, curves[at], groups[at].trays, at)
        _ticks(axes, axis, strengths, label)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=plots.INK, labelsize=9)
        if len(curves) > 1:
            axes.set_title(plots._plain(curves[at].name), fontsize=11, color=plots.INK)
        if at % columns == 0:
            axes.set_ylabel("rooted of stuck, %", color=plots.INK)
    text = CAUTION.format(margin=100 * result.input.options.margin)
    figure.supxlabel(textwrap.fill(text, int(17 * width)), fontsize=7, color=plots.INK, x=0.01, ha="left")
    return figure


def _forest(rows: list[tuple[str, float | None, float, float]], label: str, line: float | None) -> Figure:
    """Estimates with intervals on a log axis; arrows where an end is open."""
    longest = max((len(row[0]) for row in rows), default=0)
    figure, axes = plots._axes(min(11.0, 4.8 + 0.07 * longest), 1.4 + 0.4 * len(rows))
    known = [x for _, *values in rows for x in values if x is not None and 0 < x < math.inf]
    left, right = min(known, default=0.5) / 1.4, max(known, default=2.0) * 1.4
    for at, (_, value, low, high) in enumerate(rows):
        style = plots._style(0)
        axes.plot([max(low, left), min(high, right)], [at, at], color=style["color"], linewidth=2)
        if value is not None and value > 0:
            axes.plot([value], [at], markersize=8, linestyle="none", **style)
        if low < left:
            axes.plot([left], [at], color=style["color"], marker="<", markersize=7)
        if high > right:
            axes.plot([right], [at], color=style["color"], marker=">", markersize=7)
    if line is not None:
        axes.axvline(line, color=plots.INK, linewidth=1, linestyle="--")
    axes.set_xscale("log")
    axes.set_xlim(left / 1.1, right * 1.1)
    plots._ratio_ticks(axes)
    axes.set_yticks(range(len(rows)), [plots._plain(row[0]) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel(label, color=plots.INK)
    return figure


def strengths_for(result: Result) -> Figure:
    """Strengths for the wanted take, one line per curve and method."""
    rows = [(f"{row.curve}, {row.method}", row.value, row.conf_low, row.conf_high) for row in result.rows]
    unit = f", {plots._plain(result.unit)}" if result.unit else ""
    return _forest(rows, f"strength for {100 * result.take:g} trees per 100{unit} (log axis)", None)


def curve_comparison(result: Result) -> Figure:
    """Each curve's distance from the first: relative potency, odds ratio, or shift as a factor of (d + d0)."""
    rows: list[tuple[str, float | None, float, float]] = []
    measure = "relative potency"
    for one in result.shifts:
        shift = one.measure.startswith("shift")
        measure = "factor of (strength + d0)" if shift else one.measure
        value, low, high = (math.exp(x) if shift else x for x in (one.value, one.conf_low, one.conf_high))
        rows.append((f"{one.curve} against {one.against}", value, low, high))
    return _forest(rows, f"{measure} (log axis)", 1.0)
