"""The figure of a trend: take rates along their scores, and the straight line that is judged."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rootling._figures.beside import beside, drawn, room_of
from rootling._figures.captions import marks
from rootling._figures.style import (
    COLOURS,
    INK,
    as_text,
    one_panel,
    percent_axis,
    with_unit,
)
from rootling._words import outcomes
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Of the axis between two levels, how far single trays stand aside.
ASIDE = 0.012
# Square points of a tray's mark.
MARK = 20
# Of the range of scores, the room before the first.
BEFORE = 0.13


def _told(result: Result) -> str:
    trial = result._context.get("trial")
    units = "; open marks: single {units}" if trial is not None and trial.design["unit"] != "pooled cuttings" else ""
    shown = result.p is not None and result.p < 1 - result.confidence
    line = (
        "line: the trend along the levels" if shown else "dashed: the line along the levels, of which no trend is shown"
    )
    drawn = f"; {line}" if result.value is not None and not result.cut else ""
    return f"Filled marks and bars: {{rates}} with {{of}}intervals{units}{drawn}."


@marks(_told)
def trend(result: Result) -> Figure:
    """Rates with intervals at their scores, trays beside them, and the line with the rise that the sentence tells."""
    from rootling._figures.ticks import strength_axis

    trial = result._context.get("trial")
    if trial is None:
        raise ChoiceError("the counts are not in this record; draw trial.take_rates(...) instead")
    outcome = outcomes.of(result)
    found = trial.take_rates(result.factor, outcome=outcome)
    rates = {rate.levels[0]: rate for rate in found.rates}
    levels = [level for level in result.levels if level.level in rates]
    scores = [float(level.score) for level in levels]
    span = (max(scores) - min(scores)) or 1.0
    figure, axes = one_panel(max(4.2, min(10.0, 2.0 + 0.9 * len(levels))))
    _trays(axes, result, trial, dict(zip((level.level for level in levels), scores, strict=True)), span)
    for score, level in zip(scores, levels, strict=True):
        rate = rates[level.level]
        ends = [[100 * (rate.value - rate.low)], [100 * (rate.high - rate.value)]]
        axes.errorbar(
            [score], [100 * rate.value], yerr=ends, color=COLOURS[0], marker="o", markersize=8, capsize=5, zorder=4
        )
    if result.value is not None and not result.cut:
        _line(axes, result, levels, scores, span)
    strength_axis(axes.xaxis, {score: as_text(level.level) for score, level in zip(scores, levels, strict=True)})
    axes.set_xlim(min(scores) - BEFORE * span, max(scores) + 0.08 * span)
    axes.set_xlabel(as_text(with_unit(result, result.factor)), color=INK)
    percent_axis(axes, f"{outcomes.words(outcome)['rate']}, %")
    return figure


def _line(axes: Any, result: Result, levels: list[Any], scores: list[float], span: float) -> None:
    """The line through the middle of all cuttings; dashed where no trend is shown."""
    stuck = sum(level.stuck for level in levels)
    middle = sum(level.stuck * score for level, score in zip(levels, scores, strict=True)) / stuck
    height = 100 * sum(level.rooted for level in levels) / stuck
    ends = [min(scores), max(scores)]
    shown = result.p is not None and result.p < 1 - result.confidence
    axes.plot(
        ends,
        [height + 100 * result.value * (end - middle) / span for end in ends],
        color=COLOURS[1],
        linewidth=2,
        linestyle="-" if shown else "--",
        zorder=3,
    )
    told = "line: the trend" if shown else "dashed: no trend is shown"
    axes.annotate(told, (0, 1.01), xycoords="axes fraction", ha="left", fontsize=8, color=INK)


def _trays(axes: Any, result: Result, trial: Any, places: dict[str, float], span: float) -> None:
    """Single trays as open marks beside their level."""
    if trial.design["unit"] == "pooled cuttings":
        return
    shares: dict[str, list[float]] = {}
    for row in trial._counts(outcomes.of(result)).iter_rows(named=True):
        level = str(row[result.factor])
        if level in places and row["stuck"]:
            shares.setdefault(level, []).append(100 * row["rooted"] / row["stuck"])
    room = room_of(axes, MARK, ((BEFORE + 1.08) * span, 106.0))
    order = sorted(places.values())
    step = min((b - a for a, b in pairwise(order)), default=span)
    for level, values in shares.items():
        # Beside the first level stands nothing, and the axis begins soon.
        reach = min(0.6 * step, BEFORE * span) - 1.5 * ASIDE * span
        found = [
            (places[level] - 1.5 * ASIDE * span - slot * room.across, value, count)
            for value, slot, count in beside(values, 1 + max(0, int(reach / room.across)), room.along)
        ]
        drawn(axes, found, -1, s=MARK, edgecolors=COLOURS[0], linewidths=1)
    marks = outcomes.open_marks(trial.design["unit"])
    axes.annotate(marks, (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=INK)
