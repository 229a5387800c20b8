"""Rates with intervals, trays beside them; one below the other where they are many or their names long."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.beside import beside, drawn, room_of
from rootling._figures.captions import marks
from rootling._figures.rows import label_columns, label_of, rows_with_value, tray_points
from rootling._figures.style import (
    COLOURS,
    FAINT,
    INK,
    MARKERS,
    as_text,
    limits,
    look,
    one_panel,
    percent_axis,
    with_unit,
)
from rootling._words import outcomes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


MOST_ROWS = 60
# Square points of a tray's mark; of the room of a level, where the first stands and how far others reach beyond it.
MARK, NEAREST, REACH = 22, 0.16, 0.4
# The same of a level that is a line: where the first stands below it, how far others reach, inches of a line.
SMALL_MARK, BELOW, ROWS, HIGH = 14, 0.2, 0.3, 0.46


def _told(result: Result) -> str:
    trial = result._context.get("trial")
    units = "; open marks: single {units}" if trial is not None and trial.design["unit"] != "pooled cuttings" else ""
    return f"Filled marks and bars: {{rates}} with {{of}}intervals{units}."


@marks(_told)
def rates(result: Result) -> Figure:
    """Take rates with intervals, and every tray as an open mark beside its group."""
    label = f"{outcomes.words_of(result)['of_stuck']}, %"
    return _rates(result, rows_with_value(result), label_columns(result), label)


@marks(_told)
def association(result: Result) -> Figure:
    """The take rates that the test is about."""
    rows = [
        {**dict(zip(result.by, rate.levels, strict=True)), **{name: rate[name] for name in rate if name != "levels"}}
        for rate in result.rates
    ]
    return _rates(result, rows, list(result.by), f"{outcomes.words_of(result)['of_stuck']}, %")


@marks("Points: expected {rates}; lines: {of}intervals.")
def predictions(result: Result) -> Figure:
    """Expected rates with intervals, one row below the other."""
    rows, names = rows_with_value(result), list(result.columns)
    several = len(rows) > 1
    labels = [as_text(f"{row['row']}: {label_of(row, names)}" if several else label_of(row, names)) for row in rows]
    words = as_text(", ".join(with_unit(result, name) for name in names))
    across = f"row: {words}" if several else words
    expected = f"expected {outcomes.words_of(result)['rate']}, %"
    return _below(rows, labels, [[] for _ in rows], (across, expected, ""))


def _rates(result: Result, rows: list[dict[str, Any]], names: list[str], label: str) -> Figure:
    labels, trays = [label_of(row, names) for row in rows], tray_points(result, names)
    trial = result._context.get("trial")
    marks = outcomes.open_marks("tray" if trial is None else trial.design["unit"])
    across = as_text(", ".join(with_unit(result, name) for name in names))
    # Names that would run into each other stand one below the other.
    if len(rows) > 12 or max(map(len, labels), default=0) > (14 if len(rows) < 6 else 7):
        return _below(rows, labels, [trays.get(one, []) for one in labels], (across, label, marks))
    figure, axes = one_panel(max(4.2, min(10.0, 1.2 + (1.1 if len(rows) < 6 else 0.75) * len(rows))))
    _draw_rates(axes, rows, names, trays, marks)
    axes.set_xlabel(across, color=INK)
    percent_axis(axes, label)
    return figure


def _draw_rates(
    axes: Axes, rows: list[dict[str, Any]], names: list[str], trays: dict[str, list[float]], marks: str
) -> None:
    for at, row in enumerate(rows):
        low, high = limits(row)
        style = look(at)
        points = trays.get(label_of(row, names), [])
        room = room_of(axes, MARK, (len(rows) + 0.2, 106.0))
        marks_here = [
            (at - NEAREST - slot * room.across, value, count)
            for value, slot, count in beside(points, 1 + int(REACH / room.across), room.along)
        ]
        drawn(axes, marks_here, -1, s=MARK, edgecolors=style["color"], marker=style["marker"], linewidths=1)
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
    axes.set_xticks(range(len(rows)), [label_of(row, names) for row in rows])
    axes.set_xlim(-0.6, len(rows) - 0.4)
    if trays:
        axes.annotate(marks, (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=INK)


def _below(
    rows: list[dict[str, Any]], labels: list[str], trays: list[list[float]], words: tuple[str, str, str]
) -> Figure:
    """Rates with intervals, a line each; ``words`` say what the lines, the rates and the open marks are."""
    pairs = _chosen(
        [{"row": row, "label": label, "trays": own} for row, label, own in zip(rows, labels, trays, strict=True)]
    )
    longest = max((len(pair["label"]) for pair in pairs), default=0)
    high = HIGH if any(pair["trays"] for pair in pairs) else 0.34
    figure, axes = one_panel(min(11.0, 4.6 + 0.085 * longest), 1.3 + high * max(2, len(pairs)))
    room = room_of(axes, SMALL_MARK, (106.0, len(pairs) + 0.3), lying=True)
    for at, pair in enumerate(pairs):
        low, high = (100 * end for end in limits(pair["row"]))
        value = 100 * pair["row"]["value"]
        if pair["trays"]:
            marks_here = [
                (share, at + BELOW + slot * room.across, count)
                for share, slot, count in beside(pair["trays"], 1 + int(ROWS / room.across), room.along)
            ]
            drawn(axes, marks_here, 0, s=SMALL_MARK, edgecolors=INK, linewidths=0.8)
        axes.plot([low, high], [at, at], color=COLOURS[0], linewidth=2.2, solid_capstyle="butt")
        axes.plot([value], [at], color=COLOURS[0], marker=MARKERS[0], markersize=7, linestyle="none")
    axes.set_yticks(range(len(pairs)), [pair["label"] for pair in pairs])
    axes.set_ylim(len(pairs) - 0.4, -0.7)
    axes.set_xlim(-3, 103)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.set_ylabel(words[0], color=INK)
    axes.set_xlabel(words[1], color=INK)
    said = []
    if len(pairs) < len(rows):
        said.append(f"{len(pairs)} of {len(rows)} rows; the rest in the table")
    if any(trays):
        said.append(words[2])
    if said:
        axes.annotate("; ".join(said), (1, 1.01), xycoords="axes fraction", ha="right", fontsize=8, color=INK)
    return figure


def _chosen(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """At most so many rows that each can be read, evenly chosen in their order."""
    if len(rows) <= MOST_ROWS:
        return rows
    step = (len(rows) - 1) / (MOST_ROWS - 1)
    return [rows[round(at * step)] for at in range(MOST_ROWS)]
