"""The figure of a trend: take rates along their scores, and the straight line that is judged."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

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


@marks(
    "Filled marks and bars: {rates} with {of}intervals; open marks: single {units}; line: the trend along the "
    "levels, dashed where none is shown."
)
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
    axes.set_xlim(min(scores) - 0.08 * span, max(scores) + 0.08 * span)
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
    seen: dict[str, int] = {}
    for row in trial._counts(outcomes.of(result)).iter_rows(named=True):
        level = str(row[result.factor])
        if level in places and row["stuck"]:
            turn = seen[level] = seen.get(level, -1) + 1
            at = places[level] - ASIDE * span * (1.5 + turn % 3)
            axes.plot(
                [at],
                [100 * row["rooted"] / row["stuck"]],
                marker="o",
                markersize=4.5,
                markerfacecolor="none",
                markeredgecolor=COLOURS[0],
                linestyle="none",
            )
    marks = outcomes.open_marks(trial.design["unit"])
    axes.annotate(marks, (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=INK)
