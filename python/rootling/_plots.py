"""Figures for paper and screen: colours that stay apart for everyone, and a marker shape of its own per group.

Matplotlib is imported only when something is drawn, and no window is opened.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rootling import _display, _outcome
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result

__all__ = [
    "adjusted_rates",
    "all_comparisons",
    "association",
    "coefficients",
    "comparison",
    "contrasts",
    "curve_differences",
    "damage_threshold",
    "draw",
    "next_strengths",
    "odds_ratios",
    "predictions",
    "randomisation",
    "rates",
    "response_surface",
    "strength_curve",
    "strengths_for",
    "tray_correlation",
    "what_matters",
]

# Colours of Okabe & Ito (2008), told apart with any colour vision; markers tell them apart without colour.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#000000")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
INK = "#2b2f27"
FAINT = "#c9cdc2"
# Letters of a name that a figure can show.
LONGEST = 60


def _axes(width: float = 6.4, height: float = 3.8) -> tuple[Figure, Axes]:
    from rootling._figure import PaperFigure

    figure = PaperFigure(figsize=(width, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=10)
    return figure, axes


def _plain(text: Any) -> str:
    """Text as it is: a dollar sign starts no formula, a control character is a mark, a long name is cut."""
    shown = _display.clean(str(text))
    if len(shown) > LONGEST:
        shown = f"{shown[: LONGEST // 2]} ... {shown[-LONGEST // 4 :]}"
    return shown.replace("$", r"\$")


def _rows(result: Result) -> list[dict[str, Any]]:
    rows = [{**row, "value": row.get("value", row.get("odds_ratio"))} for row in result.table().iter_rows(named=True)]
    return [row for row in rows if row["value"] is not None]


def _label_columns(result: Result) -> list[str]:
    frame = result.table()
    before = []
    for name in frame.columns:
        if name in ("value", "odds_ratio"):
            break
        before.append(name)
    return [name for name in before if str(frame[name].dtype) == "String" and name not in ("method", "unit")]


def _label(row: dict[str, Any], names: list[str]) -> str:
    return _plain(", ".join(str(row[name]) for name in names if row[name] is not None) or "all")


def _limits(row: dict[str, Any]) -> tuple[float, float]:
    low, high = row.get("low"), row.get("high")
    value = row["value"]
    return (value if low is None else low), (value if high is None else high)


def _style(at: int) -> dict[str, Any]:
    return {"color": COLOURS[at % len(COLOURS)], "marker": MARKERS[at % len(MARKERS)]}


def _percent_axis(axes: Axes, label: str) -> None:
    axes.set_ylim(-3, 103)
    axes.set_ylabel(label, color=INK)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


def _tray_points(result: Result, names: list[str]) -> dict[str, list[float]]:
    """What is counted of every recorded tray in percent, by label."""
    trial = result._context.get("trial")
    if trial is None or trial.design["unit"] == "pooled cuttings":
        return {}
    frame = _outcome.counts(trial, _outcome.of(result))
    if any(name not in frame.columns for name in names):
        return {}
    points: dict[str, list[float]] = {}
    for row in frame.iter_rows(named=True):
        points.setdefault(_label(row, names), []).append(100 * row["rooted"] / row["stuck"])
    return points


def _with_unit(result: Result, name: str) -> str:
    """A column's name for an axis, with unit, substance and method when it is the declared strength."""
    trial = result._context.get("trial")
    spoken = name.replace("_", " ")
    unit = None if trial is None else trial._unit_of(name)
    # A column that names its unit needs no second one.
    return spoken if unit is None or unit in spoken else f"{spoken}, {unit}"


def _draw_rates(
    axes: Axes, rows: list[dict[str, Any]], names: list[str], trays: dict[str, list[float]], marks: str
) -> None:
    for at, row in enumerate(rows):
        low, high = _limits(row)
        style = _style(at)
        points = trays.get(_label(row, names), [])
        spread = [at - 0.16 - 0.05 * (k % 3) for k in range(len(points))]
        axes.scatter(
            spread, points, s=22, facecolors="none", edgecolors=style["color"], marker=style["marker"], linewidths=1
        )
        axes.errorbar(
            [at],
            [100 * row["value"]],
            yerr=[[max(0.0, 100 * (row["value"] - low))], [max(0.0, 100 * (high - row["value"]))]],
            capsize=5,
            markersize=8,
            linewidth=1.8,
            linestyle="none",
            **style,
        )
    axes.set_xticks(range(len(rows)), [_label(row, names) for row in rows])
    axes.set_xlim(-0.6, len(rows) - 0.4)
    if trays:
        axes.annotate(marks, (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=INK)


def _rates(result: Result, rows: list[dict[str, Any]], names: list[str], label: str) -> Figure:
    labels, trays = [_label(row, names) for row in rows], _tray_points(result, names)
    trial = result._context.get("trial")
    marks = _outcome.open_marks("tray" if trial is None else trial.design["unit"])
    across = _plain(", ".join(_with_unit(result, name) for name in names))
    # Names that would run into each other stand one below the other.
    if len(rows) > 12 or max(map(len, labels), default=0) > (14 if len(rows) < 6 else 7):
        from rootling import _rate_plots

        return _rate_plots.below(rows, labels, [trays.get(one, []) for one in labels], (across, label, marks))
    figure, axes = _axes(max(4.2, min(10.0, 1.2 + (1.1 if len(rows) < 6 else 0.75) * len(rows))))
    _draw_rates(axes, rows, names, trays, marks)
    axes.set_xlabel(across, color=INK)
    _percent_axis(axes, label)
    return figure


def rates(result: Result) -> Figure:
    """Take rates with intervals, and every tray as an open mark beside its group."""
    label = f"{_outcome.words_of(result)['of_stuck']}, %"
    return _rates(result, _rows(result), _label_columns(result), label)


def adjusted_rates(result: Result) -> Figure:
    """Adjusted take rates with intervals (and letters), every tray behind them."""
    from rootling import _effect_plots

    return _effect_plots.rates(result)


def contrasts(result: Result) -> Figure:
    """Contrasts with their intervals, the line of no difference and any margin."""
    from rootling import _effect_plots

    return _effect_plots.contrasts(result)


def _ends(row: dict[str, Any]) -> list[float]:
    return [round(end, 6) for end in (row["value"], *_limits(row))]


def _is_difference(row: dict[str, Any]) -> bool:
    words = " ".join(str(value).lower() for value in row.values() if isinstance(value, str))
    return "difference" in words


def _difference(result: Result) -> str:
    return f"difference in {_outcome.words_of(result)['per_hundred']}"


def comparison(result: Result) -> Figure:
    """The difference in trees per 100 with its interval, against no difference and any margin (dotted)."""
    rows = [row for row in _rows(result) if _is_difference(row)] or _rows(result)[:1]
    # A second way to the same numbers is in the table; drawn, it would only repeat the first line.
    rows = [row for at, row in enumerate(rows) if at == 0 or _ends(row) != _ends(rows[0])]
    names = _label_columns(result)
    longest = max((len(_label(row, names)) for row in rows), default=0)
    figure, axes = _axes(min(11.0, 5.4 + 0.075 * longest), 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        low, high = (100 * end for end in _limits(row))
        axes.plot([low, high], [at, at], color=_style(at)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([100 * row["value"]], [at], markersize=9, linestyle="none", **_style(at))
        axes.annotate(
            f"{100 * row['value']:+.1f}  ({low:+.1f} to {high:+.1f})",
            (100 * row["value"], at),
            xytext=(0, 12),
            textcoords="offset points",
            ha="center",
            fontsize=9,
            color=INK,
            bbox={"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none"},
            zorder=5,
        )
    axes.axvline(0, color=INK, linewidth=1, linestyle="--", zorder=1)
    margin = result.to_dict().get("margin")
    for edge in () if margin is None else (-100 * margin, 100 * margin):
        axes.axvline(edge, color=INK, linewidth=1, linestyle=":")
    axes.set_yticks(range(len(rows)), [_label(row, names) for row in rows])
    axes.set_ylim(len(rows) - 0.5, -0.9)
    # Another outcome beside it is counted of other plants.
    several = sum(_is_difference(row) for row in rows) > 1
    axes.set_xlabel("difference, per 100" if several else _difference(result), color=INK)
    # Numbers beside a mark near an end need room inside the axes.
    axes.margins(x=0.28)
    return figure


def _forest(labels: list[str], rows: list[dict[str, Any]], scale: float, label: str) -> Figure:
    """Estimates with intervals one below the other, against zero."""
    longest = max(map(len, labels), default=0)
    figure, axes = _axes(min(11.0, 4.8 + 0.075 * longest), 1.4 + 0.45 * len(rows))
    for at, row in enumerate(rows):
        low, high = (scale * end for end in _limits(row))
        axes.plot([low, high], [at, at], color=_style(0)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([scale * row["value"]], [at], markersize=8, linestyle="none", **_style(0))
    axes.axvline(0, color=INK, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlabel(label, color=INK)
    axes.margins(x=0.08)
    return figure


def all_comparisons(result: Result) -> Figure:
    """All differences in trees per 100 with their simultaneous intervals, against no difference."""
    rows = _rows(result)
    labels = [_plain(f"{row['second']} minus {row['minus first']}") for row in rows]
    return _forest(labels, rows, 100, f"{_difference(result)} (all intervals hold at {100 * result.confidence:g} %)")


def randomisation(result: Result) -> Figure:
    """The difference in trees per 100 with its interval by inversion, against no difference."""
    return _forest(["second minus first"], _rows(result), 100, "difference in trees per 100")


def tray_correlation(result: Result) -> Figure:
    """The estimates of the tray correlation with their intervals, against none."""
    rows = _rows(result)
    unit = _plain(_outcome.called_of(result).replace("_", " "))
    return _forest([str(row["estimated by"]) for row in rows], rows, 1, f"correlation of two cuttings of one {unit}")


def _ratio_limits(row: dict[str, Any]) -> tuple[float, float]:
    """Limits of a ratio; a missing one is no bound at all, unless nothing could be said (then there is no line)."""
    low, high = row.get("low"), row.get("high")
    if low is None and high is None:
        return row["value"], row["value"]
    return (0.0 if low is None else low), (math.inf if high is None else high)


def _against(
    result: Result, ends: list[tuple[float, float]], rows: list[dict[str, Any]], none: float
) -> tuple[Figure, Axes]:
    """Estimates with intervals against the value of no effect; an open end is an arrow, and the bound then is all."""
    from rootling._fitting_ticks import ratio_axis

    names = _label_columns(result)
    longest = max((len(_label(row, names)) for row in rows), default=0)
    figure, axes = _axes(min(11.0, 4.6 + 0.075 * longest), 1.4 + 0.36 * len(rows))
    floor = 0.0 if none > 0 else -math.inf
    bounded = [(low <= floor) != math.isinf(high) for low, high in ends]
    values = [row["value"] for row, bound in zip(rows, bounded, strict=True) if not bound]
    known = [x for x in (*values, *(end for pair in ends for end in pair)) if math.isfinite(x)]
    if none > 0:
        known = [x for x in known if x > 0]
        left, right = min([*known, none]) / 1.6, max([*known, none]) * 1.6
        axes.set_xscale("log")
        axes.set_xlim(left / 1.1, right * 1.1)
        ratio_axis(axes.xaxis)
    else:
        room = 0.1 * (max([*known, none]) - min([*known, none])) or 1.0
        left, right = min([*known, none]) - room, max([*known, none]) + room
        axes.set_xlim(left - 0.3 * room, right + 0.3 * room)
    for at, (row, (low, high)) in enumerate(zip(rows, ends, strict=True)):
        style = _style(0)
        axes.plot([max(low, left), min(high, right)], [at, at], color=style["color"], linewidth=2)
        if bounded[at]:
            axes.plot([high if low <= floor else low], [at], color=style["color"], marker="|", markersize=11)
        else:
            axes.plot([row["value"]], [at], markersize=8, linestyle="none", **style)
        if high > right:
            axes.plot([right], [at], color=style["color"], marker=">", markersize=8)
        if low < left:
            axes.plot([left], [at], color=style["color"], marker="<", markersize=8)
    axes.axvline(none, color=INK, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(rows)), [_label(row, names) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.6)
    return figure, axes


def odds_ratios(result: Result) -> Figure:
    """Odds ratios with intervals on a log axis, against 1."""
    rows = [row for row in _rows(result) if row["value"] > 0 and math.isfinite(row["value"])]
    figure, axes = _against(result, [_ratio_limits(row) for row in rows], rows, 1.0)
    axes.set_xlabel("odds ratio (log axis)", color=INK)
    return figure


def _coefficient_limits(row: dict[str, Any]) -> tuple[float, float]:
    """Limits of a coefficient; a missing one is no bound, unless nothing could be said (then there is no line)."""
    low, high = row["low"], row["high"]
    if row["p"] is None:
        return row["value"], row["value"]
    return (-math.inf if low is None else low), (math.inf if high is None else high)


def coefficients(result: Result) -> Figure:
    """Coefficients other than the intercept with intervals, against 0."""
    rows = [row for row in _rows(result) if row["coefficient"] != "intercept" and math.isfinite(row["value"])]
    ends = [_coefficient_limits(row) for row in rows]
    figure, axes = _against(result, ends, rows, 0.0)
    axes.set_xlabel(f"coefficient on the {result.numbers['link']} scale", color=INK)
    return figure


def what_matters(result: Result) -> Figure:
    """Largest difference between the rates of each effect, and how large a one is not ruled out."""
    rows = [row for row in result.table().iter_rows(named=True) if row["largest_difference"] is not None]
    figure, axes = _axes(7.0, 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        value = 100 * row["largest_difference"]
        beyond = None if row["not_ruled_out"] is None else 100 * row["not_ruled_out"]
        if beyond is not None:
            axes.plot([value, beyond], [at, at], color=COLOURS[0], linewidth=2, linestyle=":")
            axes.plot([beyond], [at], color=COLOURS[0], marker="|", markersize=12, markeredgewidth=2)
        axes.plot([value], [at], markersize=8, linestyle="none", **_style(0))
        told = "not tested" if row["p"] is None else f"P = {_display.p_value(row['p'])}".replace("= <", "<")
        axes.annotate(told, (value, at), xytext=(0, 9), textcoords="offset points", ha="center", fontsize=8, color=INK)
    axes.set_yticks(range(len(rows)), [_plain(row["effect"]) for row in rows])
    axes.set_ylim(len(rows) - 0.5, -0.8)
    axes.set_xlim(left=0)
    axes.margins(x=0.12)
    axes.set_xlabel(f"largest {_difference(result)} (bar: not ruled out)", color=INK)
    return figure


def association(result: Result) -> Figure:
    """The take rates that the test is about."""
    rows = [
        {**dict(zip(result.by, rate.levels, strict=True)), **{name: rate[name] for name in rate if name != "levels"}}
        for rate in result.rates
    ]
    return _rates(result, rows, list(result.by), f"{_outcome.words_of(result)['of_stuck']}, %")


def trend(result: Result) -> Figure:
    """The take rates along which a trend was sought, on the axis of its scores, with the straight line."""
    trial = result._context.get("trial")
    if trial is None:
        raise ChoiceError("the counts are not in this record; draw trial.take_rates(...) instead")
    from rootling import _trend_plot

    return _trend_plot.draw(result, trial)


def strength_curve(result: Result) -> Figure:
    """Take along strength with trays, levels, band, best strength and adequate range."""
    from rootling import _curve_plot

    return _curve_plot.strength_curve(result)


def strengths_for(result: Result) -> Figure:
    """Strengths for a wanted take with their intervals."""
    from rootling import _curve_plot

    return _curve_plot.strengths_for(result)


def damage_threshold(result: Result) -> Figure:
    """Deaths along the strengths with their threshold, and rooted among survivors; one panel per curve."""
    from rootling import _curve_plot

    return _curve_plot.damage_threshold(result)


def response_surface(result: Result) -> Figure:
    """Contours of the take over strength and darkness, with trays, best strengths and the region of the top."""
    from rootling import _surface_plot

    return _surface_plot.response_surface(result)


def next_strengths(result: Result) -> Figure:
    """Trays of the next trial along the strengths, one line per curve and purpose."""
    from rootling import _curve_plot

    return _curve_plot.next_strengths(result)


def curve_differences(result: Result) -> Figure:
    """How far curves lie from the first."""
    from rootling import _curve_plot

    return _curve_plot.curve_differences(result)


def predictions(result: Result) -> Figure:
    """Expected rates with intervals, one row below the other."""
    from rootling import _rate_plots

    rows, names = _rows(result), list(result.columns)
    several = len(rows) > 1
    labels = [_plain(f"{row['row']}: {_label(row, names)}" if several else _label(row, names)) for row in rows]
    words = _plain(", ".join(_with_unit(result, name) for name in names))
    across = f"row: {words}" if several else words
    expected = f"expected {_outcome.words_of(result)['rate']}, %"
    return _rate_plots.below(rows, labels, [[] for _ in rows], (across, expected, ""))


KINDS = {
    "strength_curve": strength_curve,
    "strengths_for": strengths_for,
    "curve_differences": curve_differences,
    "damage_threshold": damage_threshold,
    "response_surface": response_surface,
    "next_strengths": next_strengths,
    "all_comparisons": all_comparisons,
    "randomisation": randomisation,
    "tray_correlation": tray_correlation,
    "take_rates": rates,
    "adjusted_rates": adjusted_rates,
    "predictions": predictions,
    "letters": adjusted_rates,
    "contrasts": contrasts,
    "comparison": comparison,
    "equivalence": comparison,
    "paired": comparison,
    "unconditional_test": comparison,
    "odds_ratios": odds_ratios,
    "coefficients": coefficients,
    "what_matters": what_matters,
    "association": association,
    "trend": trend,
}


def draw(result: Result) -> Figure:
    """The figure that belongs to the result's kind."""
    if result.kind == "checks":
        from rootling import _check_plots

        return _check_plots.draw(result)
    from rootling import _count_plots

    maker = KINDS.get(result.kind) or _count_plots.KINDS.get(result.kind)
    if maker is None:
        raise ChoiceError(f"there is no figure for a result of kind {result.kind!r}; use .table()")
    return maker(result)
