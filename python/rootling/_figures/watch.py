"""Figures of a watched crop: charts against their limits, batches, parts of a difference, a rate and its target."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from rootling._figures.style import COLOURS, FAINT, GREY, INK, MARKERS, as_text, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Charts that get a colour each; further ones stay grey unless they signalled.
MOST = len(COLOURS)
FIRST = date(1970, 1, 1)


def _day(number: int) -> Any:
    """A day, as an axis of days takes it."""
    return FIRST + timedelta(days=int(number))


def _name(chart: Any) -> str:
    if chart.level is None:
        return "all batches"
    return _level(chart.grouping, chart.level)


def _level(grouping: str, level: str) -> str:
    """A level by its name, with that of its column where it does not say it."""
    return as_text(level if grouping.lower() in level.lower() else f"{grouping.replace('_', ' ')} {level}")


def signals(result: Result) -> Figure:
    """Every chart as a share of its limit; signals are marked, and the weeks that may be the first are shaded."""
    figure, axes = one_panel(8.0, 4.2)
    change = result.change
    if change is not None:
        # Weeks of setting, where the readings of their batches stand.
        first, last = (_day(week + (result.reading_age or 0)) for week in change.weeks)
        axes.axvspan(first, last + timedelta(days=7), color=FAINT, alpha=0.6, linewidth=0, zorder=0)
        axes.annotate(
            "readings of the\nfirst batches in question",
            (first, 0.99),
            xycoords=("data", "axes fraction"),
            va="top",
            fontsize=8,
            color=GREY,
        )
    charts = sorted(result.charts, key=lambda chart: chart.level is not None)
    for at, chart in enumerate(charts):
        days = [_day(week.monday) for week in chart.weeks]
        shares = [week.sum / week.limit if week.limit > 0 else 0.0 for week in chart.weeks]
        signalled = any(week.signal for week in chart.weeks)
        plain = at >= MOST and not signalled
        colour = GREY if plain else COLOURS[at % MOST]
        axes.plot(days, shares, color=colour, linewidth=1.8 if at == 0 else 1.2, label=None if plain else _name(chart))
        marked = [(day, share) for day, share, week in zip(days, shares, chart.weeks, strict=True) if week.signal]
        if marked:
            axes.plot(*zip(*marked, strict=True), MARKERS[at % MOST], color=colour, markersize=8, zorder=5)
    axes.axhline(1.0, color=INK, linewidth=1.2, linestyle="--")
    axes.annotate(
        "limit: above it a signal", (0.005, 1.0), xycoords=("axes fraction", "data"), va="bottom", fontsize=8, color=INK
    )
    axes.set_ylim(0, max(1.25, min(4.0, axes.get_ylim()[1])))
    axes.set_ylabel("sum as a share of its limit", color=INK)
    axes.set_xlabel("week of reading", color=INK)
    axes.legend(frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    _dates(axes)
    return figure


def _dates(axes: Any) -> None:
    from rootling._figures.ticks import date_axis

    date_axis(axes)


def baseline(result: Result) -> Figure:
    """What is expected of each level, the mix of all else being that of the baseline."""
    rows = result.table().to_dicts()
    figure, axes = one_panel(6.4, 1.2 + 0.32 * len(rows))
    for at, row in enumerate(rows):
        axes.plot([100 * row["low"], 100 * row["high"]], [at, at], color=COLOURS[0], linewidth=2)
        axes.plot([100 * row["value"]], [at], "o", color=COLOURS[0], markersize=7)
    axes.axvline(100 * result.value, color=GREY, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(rows)), [_level(row["column"], row["level"]) for row in rows])
    axes.invert_yaxis()
    axes.set_xlabel("expected alive, %; dashed: all batches", color=INK)
    return figure


def batches(result: Result) -> Figure:
    """Share alive less what was expected, batch by batch, with those below their limit; under it trees lost so far."""
    from rootling._figures.paper import PaperFigure

    figure = PaperFigure(figsize=(8.0, 5.2), layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(2, 1))
    seen = [one for one in result.batches if one.expected is not None]
    days = [_day(one.read) for one in seen]
    off = [100 * (one.alive - one.expected) / one.started for one in seen]
    above.plot(days, off, "o", color=COLOURS[0], markersize=3.5, alpha=0.6, label="one batch")
    low = [(day, value) for day, value, one in zip(days, off, seen, strict=True) if one.below]
    if low:
        above.plot(*zip(*low, strict=True), "s", color=COLOURS[1], markersize=7, label="below its lower limit")
    above.axhline(0, color=INK, linewidth=1)
    above.set_ylabel("alive less expected,\npoints", color=INK)
    above.legend(frameon=False, fontsize=9, loc="lower left")
    below.plot(days, [one.lost for one in seen], color=COLOURS[0], linewidth=1.8)
    below.axhline(0, color=INK, linewidth=1)
    below.set_ylabel("trees lost\nso far", color=INK)
    below.set_xlabel("day of reading", color=INK)
    for axes in (above, below):
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=10)
    _dates(below)
    return figure


def mix(result: Result) -> Figure:
    """The parts of a difference as bars that add up to it."""
    rows = result.table().to_dicts()
    figure, axes = one_panel(6.4, 1.3 + 0.42 * len(rows))
    start = 0.0
    for at, row in enumerate(rows):
        value = 100 * row["value"]
        last = at == len(rows) - 1
        axes.barh([at], [value], left=[0.0 if last else start], height=0.6, color=INK if last else COLOURS[at % MOST])
        end = value if last else start + value
        # Beside the bar, on the side of its end.
        side = -1 if value < 0 else 1
        axes.annotate(
            f"{round(value, 1) + 0.0:+.1f}",
            (end, at),
            xytext=(5 * side, 9 if at == 0 else 0),
            textcoords="offset points",
            va="center",
            ha="right" if side < 0 else "left",
            fontsize=9,
        )
        start += value
    if result.low is not None:
        axes.plot([100 * result.low, 100 * result.high], [0, 0], color=INK, linewidth=1.5)
    axes.axvline(0, color=INK, linewidth=1)
    axes.set_yticks(range(len(rows)), [as_text(row["part"]) for row in rows])
    axes.invert_yaxis()
    axes.margins(x=0.15)
    axes.set_xlabel("points", color=INK)
    return figure


def target(result: Result) -> Figure:
    """The rate with twice its standard error as each layer is heeded, and the target."""
    gap = result.value - result.target
    layers = [
        ("plants alone", result.z_of_plants),
        ("with batches", result.z_of_batches),
        ("with weeks", result.z_of_weeks),
        ("with seasons", result.z_of_seasons),
    ]
    known = [(name, z) for name, z in layers if z is not None]
    figure, axes = one_panel(6.4, 1.4 + 0.4 * len(known))
    for at, (_, z) in enumerate(known):
        reach = 200 * abs(gap / z) if z else 0.0
        value = 100 * result.value
        axes.plot([value - reach, value + reach], [at, at], color=COLOURS[0], linewidth=2)
        axes.plot([value], [at], "o", color=COLOURS[0], markersize=7)
    axes.axvline(100 * result.target, color=COLOURS[1], linewidth=1.5, linestyle="--")
    axes.set_yticks(range(len(known)), [name for name, _ in known])
    axes.invert_yaxis()
    axes.set_xlabel("alive, %, with twice the standard error; dashed: target", color=INK)
    return figure
