"""Differences with their intervals, against no difference and any margin."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.rows import label_columns, label_of, rows_with_value
from rootling._figures.style import (
    INK,
    as_text,
    limits,
    look,
    one_panel,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


def _comparison_told(result: Result) -> str:
    margin = "" if result._record.get("margin") is None else "; dotted: the margin"
    return f"Marks: estimates, with their numbers; lines: {{of}}intervals; dashed: no difference{margin}."


@marks(_comparison_told)
def comparison(result: Result) -> Figure:
    """The difference in trees per 100 with its interval, against no difference and any margin (dotted)."""
    rows = [row for row in rows_with_value(result) if _is_difference(row)] or rows_with_value(result)[:1]
    # A second way to the same numbers is in the table; drawn, it would only repeat the first line.
    rows = [row for at, row in enumerate(rows) if at == 0 or _ends(row) != _ends(rows[0])]
    names = label_columns(result)
    longest = max((len(label_of(row, names)) for row in rows), default=0)
    figure, axes = one_panel(min(11.0, 5.4 + 0.075 * longest), 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        low, high = (100 * end for end in limits(row))
        axes.plot([low, high], [at, at], color=look(at)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([100 * row["value"]], [at], markersize=9, linestyle="none", **look(at))
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
    axes.set_yticks(range(len(rows)), [label_of(row, names) for row in rows])
    axes.set_ylim(len(rows) - 0.5, -0.9)
    # Another outcome beside it is counted of other plants.
    several = sum(_is_difference(row) for row in rows) > 1
    axes.set_xlabel("difference, per 100" if several else difference_words(result), color=INK)
    # Numbers beside a mark near an end need room inside the axes.
    axes.margins(x=0.34)
    return figure


@marks("Marks: second minus first; lines: intervals that hold together at {at}; dashed: no difference.")
def all_comparisons(result: Result) -> Figure:
    """All differences in trees per 100 with their simultaneous intervals, against no difference."""
    rows = rows_with_value(result)
    labels = [as_text(f"{row['second']} minus {row['minus first']}") for row in rows]
    return _forest(
        labels, rows, 100, f"{difference_words(result)} (all intervals hold at {100 * result.confidence:g} %)"
    )


@marks("Mark: second minus first; line: the {of}interval by dealing the trays anew; dashed: no difference.")
def randomisation(result: Result) -> Figure:
    """The difference in trees per 100 with its interval by inversion, against no difference."""
    return _forest(["second minus first"], rows_with_value(result), 100, "difference in trees per 100")


@marks("Marks: estimates; lines: {of}intervals; dashed: cuttings of a {unit} no more alike than others.")
def tray_correlation(result: Result) -> Figure:
    """The estimates of the tray correlation with their intervals, against none."""
    rows = rows_with_value(result)
    unit = as_text(outcomes.called_of(result).replace("_", " "))
    return _forest([str(row["estimated by"]) for row in rows], rows, 1, f"correlation of two cuttings of one {unit}")


def _ends(row: dict[str, Any]) -> list[float]:
    return [round(end, 6) for end in (row["value"], *limits(row))]


def _is_difference(row: dict[str, Any]) -> bool:
    words = " ".join(str(value).lower() for value in row.values() if isinstance(value, str))
    return "difference" in words


def difference_words(result: Result) -> str:
    return f"difference in {outcomes.words_of(result)['per_hundred']}"


def _forest(labels: list[str], rows: list[dict[str, Any]], scale: float, label: str) -> Figure:
    """Estimates with intervals one below the other, against zero."""
    longest = max(map(len, labels), default=0)
    figure, axes = one_panel(min(11.0, 4.8 + 0.075 * longest), 1.4 + 0.45 * len(rows))
    for at, row in enumerate(rows):
        low, high = (scale * end for end in limits(row))
        axes.plot([low, high], [at, at], color=look(0)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([scale * row["value"]], [at], markersize=8, linestyle="none", **look(0))
    axes.axvline(0, color=INK, linewidth=1, linestyle="--")
    axes.set_yticks(range(len(rows)), labels)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlabel(label, color=INK)
    axes.margins(x=0.08)
    return figure
