"""What a model of means says: sizes of effects, adjusted means with letters, contrasts, and what is left over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.responses import in_unit, trays_by
from rootling._figures.rows import label_of, rows_with_value
from rootling._figures.style import COLOURS, FAINT, INK, as_text, limits, look, one_panel
from rootling._words import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result

MOST_POINTS = 60


def _effects_told(result: Result) -> str:
    beyond = any(row["not_ruled_out"] is not None for row in result.table().iter_rows(named=True))
    dotted = "; dotted lines to bars: larger ones that are not ruled out" if beyond else ""
    return f"Marks: largest difference between means of each effect, with its P value{dotted}."


@marks(_effects_told)
def effects(result: Result) -> Figure:
    """Largest difference between the means of each effect, and how large a one is not ruled out."""
    rows = [row for row in result.table().iter_rows(named=True) if row["largest_difference"] is not None]
    figure, axes = one_panel(7.0, 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        value, beyond = row["largest_difference"], row["not_ruled_out"]
        if beyond is not None:
            axes.plot([value, beyond], [at, at], color=COLOURS[0], linewidth=2, linestyle=":")
            axes.plot([beyond], [at], color=COLOURS[0], marker="|", markersize=12, markeredgewidth=2)
        axes.plot([value], [at], markersize=8, linestyle="none", **look(0))
        told = "not tested" if row["p"] is None else f"P = {numbers.written(row['p'], 'p')}".replace("= <", "<")
        axes.annotate(told, (value, at), xytext=(0, 9), textcoords="offset points", ha="center", color=INK, fontsize=9)
    axes.set_yticks(range(len(rows)), [as_text(row["effect"].replace("_", " ")) for row in rows])
    axes.set_ylim(len(rows) - 0.4, -0.7)
    axes.set_xlim(left=0)
    axes.margins(x=0.1)
    axes.set_xlabel(f"largest difference, {in_unit(result)}", color=INK)
    return figure


def _rows_with_limits(
    axes: Axes, rows: list[dict[str, Any]], labels: list[str], points: dict[str, list[float]]
) -> None:
    for at, (row, label) in enumerate(zip(rows, labels, strict=True)):
        if row["low"] is not None and row["high"] is not None:
            low, high = limits(row)
            axes.plot([low, high], [at, at], color=look(0)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([row["value"]], [at], markersize=8, linestyle="none", **look(0))
        own = points.get(label, [])
        if len(own) <= MOST_POINTS:
            axes.plot(own, [at + 0.24] * len(own), "o", markersize=5, color=FAINT, fillstyle="none")
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.4, -0.6)


def _adjusted_told(result: Result) -> str:
    trays = "; open marks: single trays" if result._context.get("trial") is not None else ""
    letters = " Levels that share a letter are not shown to differ." if result.kind == "mean_letters" else ""
    return f"Filled marks and bars: means from the model with {{of}}intervals{trays}.{letters}"


@marks(_adjusted_told)
def adjusted(result: Result) -> Figure:
    """Adjusted means with limits (and letters), one row below the other, and every tray as an open mark."""
    rows = rows_with_value(result)
    names = [result.by] if result.within is None else [result.by, result.within]
    labels = [label_of(row, names) for row in rows]
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 5.4 + 0.075 * longest), 1.5 + 0.5 * len(rows))
    _rows_with_limits(axes, rows, labels, trays_by(result, names))
    axes.set_xlim(left=0)
    for at, row in enumerate(rows):
        if row.get("letters"):
            axes.annotate(
                row["letters"],
                (1.02, at),
                xycoords=("axes fraction", "data"),
                va="center",
                color=INK,
                fontsize=11,
                annotation_clip=False,
            )
    axes.set_xlabel(in_unit(result), color=INK)
    return figure


@marks("Marks: expected means; lines: {of}intervals.")
def predictions(result: Result) -> Figure:
    """Expected means with limits, one row below the other."""
    rows = rows_with_value(result)
    names = list(result.model.effects)
    labels = [label_of(row, names) for row in rows]
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 5.0 + 0.075 * longest), 1.5 + 0.5 * len(rows))
    _rows_with_limits(axes, rows, labels, {})
    axes.set_xlim(left=0)
    axes.set_xlabel(in_unit(result), color=INK)
    return figure


@marks("Marks: differences, filled where shown to differ; lines: {of}intervals; upright line: no difference.")
def contrasts(result: Result) -> Figure:
    """Contrasts with their intervals one below the other, the line of no difference and the margin."""
    rows = rows_with_value(result)
    names = ["comparison"] if result.within is None else ["comparison", result.within]
    labels = [label_of(row, names) for row in rows]
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 4.4 + 0.085 * longest), 1.5 + 0.46 * len(rows))
    for at, row in enumerate(rows):
        low, high = limits(row)
        shown = (row["p_adjusted"] if row["p_adjusted"] is not None else 1.0) < 1 - result.confidence
        axes.plot([low, high], [at, at], color=COLOURS[0], linewidth=2.2, solid_capstyle="butt")
        filled: dict[str, Any] = {} if shown else {"fillstyle": "none", "markerfacecolor": "white"}
        axes.plot([row["value"]], [at], "o", markersize=8, color=COLOURS[0], **filled)
    axes.axvline(0, color=INK, linewidth=1.4, zorder=1)
    for edge in [] if result.margin is None else (-result.margin, result.margin):
        axes.axvline(edge, color=INK, linewidth=1.4, linestyle=":", zorder=1)
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlabel(f"difference, {in_unit(result)}", color=INK)
    axes.margins(x=0.08)
    return figure


@marks("Marks: residuals of single units in standard deviations; dashed: 3 standard deviations either way.")
def checks(result: Result) -> Figure:
    """Residuals against what is expected; units far out by name."""
    figure, axes = one_panel(6.4, 4.2)
    rows = [row for row in result.table().iter_rows(named=True) if row["residual"] is not None]
    axes.plot([row["expected"] for row in rows], [row["residual"] for row in rows], "o", color=COLOURS[0], alpha=0.7)
    axes.axhline(0, color=INK, linewidth=1)
    for edge in (-3, 3):
        axes.axhline(edge, color=INK, linewidth=1, linestyle="--")
    for row in rows:
        if abs(row["residual"]) > 3:
            place = (row["expected"], row["residual"])
            axes.annotate(as_text(row["unit"]), place, xytext=(6, 4), textcoords="offset points", color=INK)
    axes.set_xlabel(f"expected, {in_unit(result)}", color=INK)
    axes.set_ylabel("residual, standard deviations", color=INK)
    axes.margins(x=0.1)
    return figure
