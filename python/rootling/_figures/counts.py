"""Figures of tests and estimates from plain counts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.rows import label_columns, label_of
from rootling._figures.style import (
    COLOURS,
    FAINT,
    INK,
    as_text,
    one_panel,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Estimate, Result


SMALLEST = 1e-300
# Ratios farther out than that are drawn there: no axis holds them.
FARTHEST = 1e100


@marks("Points: P values on a log axis; dashed: 5 %.")
def p_values(result: Result) -> Figure:
    """The P value of each test or definition on a logarithmic axis, with 5 % marked."""
    from rootling._figures.ticks import ratio_axis

    rows = [row for row in result.table().iter_rows(named=True) if row["p"] is not None]
    names = label_columns(result) or [name for name in ("test", "definition", "method") if name in rows[0]]
    figure, axes = one_panel(height=1.2 + 0.32 * len(rows))
    places = list(range(len(rows)))[::-1]
    values = [max(row["p"], SMALLEST) for row in rows]
    axes.plot(values, places, linestyle="none", marker="o", color=COLOURS[0])
    axes.set_xscale("log")
    axes.set_xlim(min(*values, 0.01) / 2, 1.6)
    ratio_axis(axes.xaxis)
    axes.axvline(0.05, color=INK, linewidth=0.8, linestyle="--")
    axes.set_yticks(places, [label_of(row, names) for row in rows])
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xlabel("P value (dashed: 5 %)", color=INK)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    return figure


@marks("Points: estimates; lines: {of}intervals, on a log axis; dashed: no difference.")
def stratified(result: Result) -> Figure:
    """Common odds ratio and ratio with their limits on a logarithmic axis; P values where there are no measures."""
    from rootling._figures.ticks import ratio_axis

    frame = result.table()
    if "value" not in frame.columns:
        return p_values(result)
    rows = [row for row in frame.iter_rows(named=True) if row["what"] != "difference" and (row["value"] or 0) > 0]
    figure, axes = one_panel(height=1.2 + 0.4 * len(rows))
    places = list(range(len(rows)))[::-1]
    for place, row in zip(places, rows, strict=True):
        value, low, high = (
            min(max(row[end] or row["value"], 1 / FARTHEST), FARTHEST) for end in ("value", "low", "high")
        )
        axes.plot([low, high], [place, place], color=COLOURS[0])
        axes.plot([value], [place], marker="o", color=COLOURS[0])
    axes.set_xscale("log")
    ratio_axis(axes.xaxis)
    axes.axvline(1.0, color=INK, linewidth=0.8, linestyle="--")
    axes.set_yticks(places, [as_text(row["what"]) for row in rows])
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xlabel("first row against second (dashed: no difference)", color=INK)
    return figure


@marks("Points: values in the order given; lines: {of}intervals.")
def estimate(found: Estimate) -> Figure:
    """Each value with its limits, in the order given."""
    rows: list[dict[str, Any]] = [row for row in found.table().iter_rows(named=True) if row["value"] is not None]
    figure, axes = one_panel(height=1.4 + 0.3 * min(len(rows), 40))
    for place, row in enumerate(rows):
        axes.plot([row["low"], row["high"]], [-place, -place], color=COLOURS[0])
        axes.plot([row["value"]], [-place], marker="o", color=COLOURS[0])
    axes.set_yticks([-place for place in range(len(rows))], [str(place + 1) for place in range(len(rows))])
    axes.set_ylim(-len(rows) + 0.4, 0.6)
    axes.set_xlabel(f"{found.method}, {100 * found.confidence:g} % confidence", color=INK)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    return figure
