"""The panels that show whether a model holds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.room import across
from rootling._figures.style import (
    COLOURS,
    FAINT,
    INK,
    MARKERS,
    as_text,
)
from rootling._words import outcomes
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


# Bars of trays at most; the rest hardly move anything.
MOST_BARS, FEW_BARS = 20, 12


def residuals(axes: Axes, result: Result) -> None:
    """Quantile residuals against expected rates; a cloud around 0 without a bend is what a good model gives."""
    trays = result.trays
    rates = [100 * tray.expected / tray.stuck for tray in trays]
    heights = [tray.quantile_residual for tray in trays]
    axes.axhline(0, color=INK, linewidth=1)
    for edge in (-1.96, 1.96):
        axes.axhline(edge, color=INK, linewidth=0.8, linestyle=":")
    axes.plot(
        rates, heights, linestyle="none", marker=MARKERS[0], markersize=5, color=COLOURS[0], markerfacecolor="none"
    )
    _names(axes, result, _beyond(trays), (rates, heights))
    _dress(
        axes,
        f"expected {outcomes.words_of(result)['rate']}, %",
        "quantile residual",
        "Each tray beside what is expected",
    )


def order(axes: Axes, result: Result) -> None:
    """Residuals in order against those of a normal law; the band holds 95 % of each."""
    points = result.quantile_plot
    across = [point.expected for point in points]
    axes.fill_between(across, [p.low for p in points], [p.high for p in points], color=FAINT, linewidth=0)
    ends = [min(across), max(across)]
    axes.plot(ends, ends, color=INK, linewidth=1)
    axes.plot(
        across,
        [point.residual for point in points],
        linestyle="none",
        marker=MARKERS[0],
        markersize=5,
        color=COLOURS[0],
        markerfacecolor="none",
    )
    _dress(axes, "normal quantile", "quantile residual", "Residuals in order")


def change(axes: Axes, result: Result) -> None:
    """How far a rate would move without each tray, the largest first."""
    far = sorted(result.trays, key=_change, reverse=True)[: MOST_BARS if across(2, 3.0) > 1 else FEW_BARS]
    sizes = [_change(tray) for tray in far]
    axes.barh(range(len(far)), sizes, color=COLOURS[1], height=0.7)
    axes.set_yticks(range(len(far)), [_short(result, tray.tray) for tray in far])
    axes.invert_yaxis()
    axes.set_xlim(left=0)
    more = len(result.trays) - len(far)
    up = "left out" if more == 0 else f"left out ({more} more move less)"
    _dress(axes, f"change of a rate, {outcomes.words_of(result)['per_hundred']}", up, "Without each tray")
    axes.tick_params(axis="y", labelsize=7)


def calibration(axes: Axes, result: Result) -> None:
    """Observed against expected rates in groups; bars are two standard deviations of the count under the model."""
    axes.plot([0, 100], [0, 100], color=INK, linewidth=1)
    for group in result.calibration:
        expected, observed = 100 * group.expected / group.stuck, 100 * group.rooted / group.stuck
        reach = 200 * group.deviation / group.stuck
        axes.errorbar(
            [expected],
            [observed],
            yerr=[[reach], [reach]],
            capsize=3,
            marker=MARKERS[1],
            markersize=5,
            color=COLOURS[2],
            linestyle="none",
        )
    axes.set_xlim(-3, 103)
    axes.set_ylim(-3, 103)
    said = outcomes.words_of(result)
    _dress(axes, f"expected {said['rate']}, %", f"{said['of_stuck']}, %", "Observed beside expected")


PANELS: dict[str, Callable[[Axes, Result], None]] = {
    "calibration": calibration,
    "change": change,
    "residuals": residuals,
    "order": order,
}


@marks(
    "Observed beside expected: groups of {units} with two standard deviations either way. Without each "
    "{unit}: how far a rate moves. Residuals: dotted lines hold 95 % if the model holds, and so does the "
    "band."
)
def draw(result: Result, panel: str | None = None) -> Figure:
    """All panels, or the one that is named."""
    from rootling._figures.paper import PaperFigure

    if panel is not None and panel not in PANELS:
        raise ChoiceError(f"there is no panel {panel!r}; choose one of {', '.join(PANELS)}, or none for all")
    if panel is not None:
        figure = PaperFigure(figsize=(5.2, 4.2), layout="constrained")
        PANELS[panel](figure.add_subplot(), result)
        return figure
    if across(2, 3.0) < 2:
        figure = PaperFigure(figsize=(5.0, 11.0), layout="constrained")
        column = figure.add_gridspec(4, 1)
        cells = [column[row, 0] for row in range(4)]
    else:
        figure = PaperFigure(figsize=(9.2, 7.6), layout="constrained")
        rows = figure.add_gridspec(2, 5)
        cells = [rows[0, :3], rows[0, 3:], rows[1, :3], rows[1, 3:]]
    for place, one in zip(cells, PANELS.values(), strict=True):
        one(figure.add_subplot(place), result)
    return figure


def _dress(axes: Axes, across: str, up: str, title: str) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=9)
    axes.set_xlabel(across, color=INK)
    axes.set_ylabel(up, color=INK)
    axes.set_title(title, loc="left", fontsize=10, color=INK)
    axes.grid(color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


def _beyond(trays: Any) -> list[int]:
    """Trays with a count that chance gives none of so many in one good model of twenty."""
    return [at for at, tray in enumerate(trays) if tray.p * len(trays) < 0.05]


def _short(result: Result, name: str) -> str:
    """What all of them are needs no saying: "T07" for "tray T07", "M7" for "mother plant M7"."""
    unit = str(result._record.get("unit") or "tray").removesuffix(" batch")
    return as_text(name.removeprefix(f"{unit} "))


def _names(axes: Axes, result: Result, at: list[int], places: tuple[list[float], list[float]]) -> None:
    """Names beside marks: to the side where there is room, and none over another."""
    trays, (across, up) = result.trays, places
    middle = 0.5 * (min(across) + max(across))
    height = (max(up) - min(up)) or 1.0
    taken: list[float] = []
    for one in sorted(at, key=lambda one: -up[one]):
        left = across[one] > middle
        level = up[one]
        # A label is about a sixteenth of the axis high.
        while any(abs(level - other) < height / 16 for other in taken):
            level -= height / 16
        taken.append(level)
        lift = 0 if level == up[one] else 1
        axes.annotate(
            f"  {_short(result, trays[one].tray)}  ",
            (across[one], up[one]),
            xytext=(across[one], level),
            textcoords="data",
            ha="right" if left else "left",
            va="center",
            fontsize=7,
            color=INK,
            arrowprops={"arrowstyle": "-", "color": FAINT, "linewidth": 0.6} if lift else None,
        )


def _change(tray: Any) -> float:
    refit = tray.refit_change
    found = tray.one_step_change if refit is None else refit
    return 0.0 if found is None else 100 * float(abs(found))
