"""Rates one below the other: for many of them, or where their names are long."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling import _plots

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_ROWS = 60


def _chosen(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """At most so many rows that each can be read, evenly chosen in their order."""
    if len(rows) <= MOST_ROWS:
        return rows
    step = (len(rows) - 1) / (MOST_ROWS - 1)
    return [rows[round(at * step)] for at in range(MOST_ROWS)]


def below(
    rows: list[dict[str, Any]], labels: list[str], trays: list[list[float]], words: tuple[str, str, str]
) -> Figure:
    """Rates with intervals, a line each; ``words`` say what the lines, the rates and the open marks are."""
    pairs = _chosen(
        [{"row": row, "label": label, "trays": own} for row, label, own in zip(rows, labels, trays, strict=True)]
    )
    longest = max((len(pair["label"]) for pair in pairs), default=0)
    figure, axes = _plots._axes(min(11.0, 4.6 + 0.085 * longest), 1.3 + 0.34 * max(2, len(pairs)))
    for at, pair in enumerate(pairs):
        low, high = (100 * end for end in _plots._limits(pair["row"]))
        value = 100 * pair["row"]["value"]
        if pair["trays"]:
            level = [at + 0.22] * len(pair["trays"])
            axes.scatter(pair["trays"], level, s=14, facecolors="none", edgecolors=_plots.INK, linewidths=0.8)
        axes.plot([low, high], [at, at], color=_plots.COLOURS[0], linewidth=2.2, solid_capstyle="butt")
        axes.plot([value], [at], color=_plots.COLOURS[0], marker=_plots.MARKERS[0], markersize=7, linestyle="none")
    axes.set_yticks(range(len(pairs)), [pair["label"] for pair in pairs])
    axes.set_ylim(len(pairs) - 0.4, -0.7)
    axes.set_xlim(-3, 103)
    axes.grid(axis="x", color=_plots.FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_ylabel(words[0], color=_plots.INK)
    axes.set_xlabel(words[1], color=_plots.INK)
    said = []
    if len(pairs) < len(rows):
        said.append(f"{len(pairs)} of {len(rows)} rows; the rest in the table")
    if any(trays):
        said.append(words[2])
    if said:
        axes.annotate("; ".join(said), (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=_plots.INK)
    return figure
