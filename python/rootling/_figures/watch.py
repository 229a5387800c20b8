"""Figures of a watched crop: charts against their limits, batches, parts of a difference, a rate and its target."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.style import (
    COLOURS,
    FAINT,
    GREY,
    INK,
    LABEL,
    MARKERS,
    SMALL,
    TICK,
    WIDTH,
    as_text,
    key_of,
    one_panel,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Charts that get a colour each; further ones stay grey unless they signalled.
MOST = len(COLOURS)
# Lines of charts that did not signal, so that they are told apart without colour; those that did have marks.
LINES: tuple[Any, ...] = ((0, (6, 1.5)), (0, (1, 1)), (0, (6, 1.5, 1, 1.5)), (0, (3, 1)))
# Letters of a name in a legend.
LONGEST = 26
FIRST = date(1970, 1, 1)
# Fewest days of an axis, so that its marks are days.
SHORTEST = 21


def _day(number: int) -> Any:
    """A day, as an axis of days takes it."""
    return FIRST + timedelta(days=int(number))


def _name(chart: Any) -> str:
    if chart.level is None:
        return "all batches"
    return _level(chart.grouping, chart.level)


def _level(grouping: str, level: str) -> str:
    """A level by its name, with that of its column where it does not say it."""
    spoken = grouping.replace("_", " ")
    return as_text(level if spoken.lower() in level.lower() else f"{spoken} {level}")


def _short(name: str) -> str:
    """A name with its middle left out: what tells levels apart mostly stands at an end."""
    return name if len(name) <= LONGEST else f"{name[: LONGEST // 2 - 2]}...{name[1 - LONGEST // 2 :]}"


def _panels(height: float, ratios: tuple[float, ...]) -> tuple[Figure, list[Any]]:
    """Panels over one axis of days, large enough to be read at half the width of a page."""
    from rootling._figures.paper import PaperFigure

    figure = PaperFigure(figsize=(WIDTH, height), layout="constrained")
    panels = list(figure.subplots(len(ratios), 1, sharex=True, height_ratios=ratios))
    for axes in panels:
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(colors=INK, labelsize=TICK)
    return figure, panels


def _legend(figure: Figure, handles: list[Any]) -> None:
    key_of(figure, handles=handles, loc="outside lower center", ncols=2, fontsize=SMALL)


@marks(
    "Above: sums of losses as a share of their limit (dashed), which a chart passes only when fewer survive "
    "than expected; marks: signals, after which a sum begins anew; shaded: weeks in which the change may have "
    "begun. Below: trees lost so far."
)
def signals(result: Result) -> Figure:
    """Every chart as a share of its limit, signals marked, after which a sum begins anew; under it trees lost."""
    figure, (above, below) = _panels(7.2, (5, 3))
    charts = sorted(result.charts, key=lambda chart: chart.level is not None)
    handles: list[Any] = []
    grey = signalled = False
    for at, chart in enumerate(charts):
        marks = any(week.signal for week in chart.weeks)
        plain = at >= MOST and not marks
        look = {
            "color": GREY if plain else COLOURS[at % MOST],
            "linewidth": 2.6 if at == 0 else 0.8 if plain else 1.6,
            "linestyle": "-" if at == 0 or marks else LINES[at % len(LINES)],
        }
        # Of grey charts one stands for all.
        label = None if plain and grey else "other charts" if plain else _short(_name(chart))
        grey, signalled = grey or plain, signalled or marks
        line = _chart(above, chart, look, MARKERS[at % len(MARKERS)])
        if label is not None:
            line.set_label(label)
            handles.append(line)
        if marks or at == 0:
            days = [_day(week.monday) for week in chart.weeks]
            lost = list(accumulate(week.expected - week.alive for week in chart.weeks))
            below.plot(days, lost, **_seen(look, len(days)))
    top = max((_share(week) for chart in charts for week in chart.weeks), default=0.0)
    above.set_ylim(0, max(1.25, 1.08 * top))
    above.axhline(1.0, color=INK, linewidth=1.2, linestyle="--")
    above.annotate(
        "limit",
        (1.0, 1.0),
        xytext=(3, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center",
        fontsize=SMALL,
        color=INK,
    )
    above.set_ylabel("sum as a share\nof its limit", color=INK, fontsize=LABEL)
    below.axhline(0, color=INK, linewidth=1)
    below.set_ylabel("trees lost\nso far", color=INK, fontsize=LABEL)
    below.set_xlabel("week of reading", color=INK, fontsize=LABEL)
    handles += _told(result, above, signalled=signalled)
    _legend(figure, handles)
    days = [_day(week.monday) for chart in charts for week in chart.weeks]
    if days:
        _dates(below, days)
    else:
        above.annotate("nothing to watch yet", (0.5, 0.5), xycoords="axes fraction", ha="center", fontsize=LABEL)
        below.set_xticks([])
    return figure


def _share(week: Any) -> float:
    return float(week.sum / week.limit) if week.limit > 0 else 0.0


def _seen(look: dict[str, Any], count: int) -> dict[str, Any]:
    """A single point of a line would not be seen."""
    return {**look, "marker": "o", "markersize": 5} if count == 1 else look


def _chart(axes: Any, chart: Any, look: dict[str, Any], marker: str) -> Any:
    """The sums of a chart; a signal is marked and ends its stretch, since the sum begins anew at 0."""
    days: list[Any] = []
    shares: list[float] = []
    for week in chart.weeks:
        days.append(_day(week.monday))
        shares.append(_share(week))
        if week.signal:
            days += [_day(week.monday)] * 2
            shares += [float("nan"), 0.0]
    (line,) = axes.plot(days, shares, **_seen(look, len(chart.weeks)))
    marked = [(_day(week.monday), _share(week)) for week in chart.weeks if week.signal]
    if marked:
        axes.plot(*zip(*marked, strict=True), marker, color=look["color"], markersize=9, zorder=5, clip_on=False)
        line.set(marker=marker, markersize=9, markevery=[])
    return line


def _told(result: Result, axes: Any, *, signalled: bool) -> list[Any]:
    """What a legend says of marks and of the weeks in question, which are shaded."""
    from rootling._figures.paper import line_of, patch_of

    handles: list[Any] = []
    if signalled:
        handles.append(line_of(color=INK, marker="o", markersize=9, linestyle="none", label="signal; sum begins anew"))
    change = result.change
    if change is not None:
        # Weeks of setting, where the readings of their batches stand.
        first, last = (_day(week + (result.reading_age or 0)) for week in change.weeks)
        axes.axvspan(first, last + timedelta(days=7), color=FAINT, alpha=0.6, linewidth=0, zorder=0)
        handles.append(patch_of(color=FAINT, alpha=0.6, label="may have begun here"))
    return handles


def _dates(axes: Any, days: list[Any]) -> None:
    """Marks an axis of days, which holds some weeks at least."""
    from rootling._figures.ticks import date_axis

    short = SHORTEST - (max(days) - min(days)).days
    if short > 0:
        beside = timedelta(days=0.5 * short)
        axes.set_xlim(min(days) - beside, max(days) + beside)
    date_axis(axes)
    axes.xaxis.get_offset_text().set(fontsize=SMALL, color=INK)


@marks("Marks: expected alive at each level, all else as in the baseline; lines: {of}intervals; dashed: all batches.")
def baseline(result: Result) -> Figure:
    """What is expected of each level, the mix of all else being that of the baseline."""
    rows = result.table().to_dicts()
    figure, axes = one_panel(WIDTH, 1.4 + 0.4 * len(rows))
    for at, row in enumerate(rows):
        axes.plot([100 * row["low"], 100 * row["high"]], [at, at], color=COLOURS[0], linewidth=2)
        axes.plot([100 * row["value"]], [at], "o", color=COLOURS[0], markersize=8)
    axes.axvline(100 * result.value, color=GREY, linewidth=1.2, linestyle="--")
    _rows(axes, [_short(_level(row["column"], row["level"])) for row in rows])
    axes.set_xlabel("expected alive, %;\ndashed: all batches", color=INK, fontsize=LABEL)
    return figure


def _rows(axes: Any, names: list[str]) -> None:
    """Names of rows from the top down, with room beyond the first and the last."""
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(labelsize=TICK)


@marks(
    "Above: batches less what was expected, squares below their limit. Middle: weighted average of residuals "
    "and its limit (dashed). Below: trees lost so far."
)
def batches(result: Result) -> Figure:
    """Batches less what was expected, with those below their limit; the weighted average; trees lost so far."""
    from rootling._figures.paper import line_of

    figure, (above, middle, below) = _panels(8.4, (5, 3, 3))
    seen = [one for one in result.batches if one.expected is not None]
    days = [_day(one.read) for one in seen]
    off = [100 * (one.alive - one.expected) / one.started for one in seen]
    above.plot(days, off, "o", color=COLOURS[0], markersize=4.5, alpha=0.6)
    low = [(day, value) for day, value, one in zip(days, off, seen, strict=True) if one.below]
    if low:
        above.plot(*zip(*low, strict=True), "s", color=COLOURS[1], markersize=9)
    above.set_ylabel("alive less\nexpected, points", color=INK, fontsize=LABEL)
    plain = _seen({"color": COLOURS[0], "linewidth": 2}, len(days))
    dashed = {"color": COLOURS[1], "linewidth": 1.8, "linestyle": "--"}
    middle.plot(days, [one.average for one in seen], **plain)
    middle.plot(days, [one.average_limit for one in seen], **_seen(dashed, len(days)))
    middle.set_ylabel("weighted\naverage", color=INK, fontsize=LABEL)
    below.plot(days, [one.lost for one in seen], **plain)
    below.set_ylabel("trees lost\nso far", color=INK, fontsize=LABEL)
    below.set_xlabel("day of reading", color=INK, fontsize=LABEL)
    for axes in (above, middle, below):
        axes.axhline(0, color=INK, linewidth=1)
    figure.align_ylabels()
    handles = [line_of(color=COLOURS[0], marker="o", alpha=0.6, linestyle="none", label="one batch")]
    if low:
        handles.append(line_of(color=COLOURS[1], marker="s", linestyle="none", label="below its lower limit"))
    handles.append(line_of(**dashed, label="limit of the average"))
    _legend(figure, handles)
    if days:
        _dates(below, days)
    return figure


@marks("Bars: parts that add up to the difference, later less earlier; line: its {of}interval.")
def mix(result: Result) -> Figure:
    """The parts of a difference as bars that add up to it."""
    rows = result.table().to_dicts()
    figure, axes = one_panel(WIDTH, 1.4 + 0.46 * len(rows))
    start = 0.0
    for at, row in enumerate(rows):
        value = 100 * row["value"]
        last = at == len(rows) - 1
        axes.barh([at], [value], left=[0.0 if last else start], height=0.6, color=INK if last else COLOURS[at % MOST])
        end = value if last else start + value
        # Beside the bar, on the side of its end.
        side = -1 if value < 0 else 1
        axes.annotate(
            f"{round(value, 1) + 0.0:+.1f}" if round(value, 1) else "0.0",
            (end, at),
            xytext=(5 * side, 11 if at == 0 else 0),
            textcoords="offset points",
            va="center",
            ha="right" if side < 0 else "left",
            fontsize=SMALL,
        )
        start += value
    if result.low is not None:
        axes.plot([100 * result.low, 100 * result.high], [0, 0], color=INK, linewidth=1.5)
    axes.axvline(0, color=INK, linewidth=1)
    _rows(axes, [_short(as_text(row["part"])) for row in rows])
    axes.margins(x=0.18)
    axes.set_xlabel("trees per 100,\nlater less earlier", color=INK, fontsize=LABEL)
    return figure


@marks("Marks: the rate; lines: twice its standard error, as more of what varies is heeded; dashed: the target.")
def target(result: Result) -> Figure:
    """The rate with limits as more and more of what varies is heeded, the last by t, and the target."""
    gap = result.value - result.target
    rows = [
        ("only plants differ", result.z_of_plants),
        ("batches do too", result.z_of_batches),
        ("weeks do too", result.z_of_weeks),
        ("seasons do too", result.z_of_seasons),
    ]
    figure, axes = one_panel(WIDTH, 1.4 + 0.46 * len(rows))
    value = 100 * result.value
    # The last row is what the answer rests on: its limits are those of t.
    heeded = max(at for at, (_, z) in enumerate(rows) if z is not None)
    for at, (_, z) in enumerate(rows):
        if z is None:
            told = "not known: three seasons would tell"
            axes.annotate(told, (0.02, at), xycoords=("axes fraction", "data"), va="center", fontsize=SMALL, color=INK)
            continue
        reach = 200 * abs(gap / z) if z else 0.0
        ends = [value - reach, value + reach]
        if at == heeded and result.low is not None:
            ends = [100 * result.low, 100 * result.high]
        axes.plot(ends, [at, at], color=COLOURS[0], linewidth=2)
        axes.plot([value], [at], "o", color=COLOURS[0], markersize=8)
    axes.axvline(100 * result.target, color=COLOURS[1], linewidth=1.8, linestyle="--")
    _rows(axes, [name for name, _ in rows])
    said = "alive, %, with twice the standard error,\nin the last row 95 % limits; dashed: target"
    axes.set_xlabel(said, color=INK, fontsize=LABEL)
    return figure
