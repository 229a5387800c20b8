"""Figures of the chain of steps: parts of a change, agreement of readers, what a sign tells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, FAINT, INK, LABEL, SMALL, TICK, WIDTH, as_text, look, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result


def _rows(axes: Any, names: list[str]) -> None:
    """Names of rows from the top down, with room beyond the first and the last."""
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.tick_params(labelsize=TICK)


def _yields_told(result: Result) -> str:
    lost = any(step.lost > 0 for step in result.steps)
    hatched = "hatched: lost at the step, filled where most are lost; " if lost else ""
    return f"Bars: trees left of 100 started; {hatched}line: {{of}}interval of the overall yield."


@marks(_yields_told)
def yields(result: Result) -> Figure:
    """Trees left per 100 started after each step, with the limits of the overall yield at the end."""
    steps = list(result.steps)
    names = [as_text(result.start.replace("_", " ")), *(as_text(step.step.replace("_", " ")) for step in steps)]
    left = [100.0, *(100 * step.left for step in steps)]
    figure, axes = one_panel(WIDTH, 1.4 + 0.5 * len(names))
    most = max(range(len(steps)), key=lambda at: steps[at].lost) + 1
    for at, value in enumerate(left):
        axes.barh([at], [value], height=0.62, color=COLOURS[0])
        lost = left[at - 1] - value if at else 0.0
        if lost > 0:
            # What is lost at the step, hatched, so that it is told apart without colour.
            face = COLOURS[1] if at == most else "white"
            axes.barh(
                [at], [lost], left=[value], height=0.62, facecolor=face, edgecolor=INK, hatch="///", linewidth=0.8
            )
        told = f"{value:.0f}" if lost <= 0 else f"{value:.0f}  ({-round(lost, 1):+.1f})"
        # At the end the number stands beyond the upper limit.
        beyond = value + lost if at < len(steps) else max(value + lost, 100 * result.high)
        axes.annotate(told, (beyond, at), xytext=(5, 0), textcoords="offset points", va="center", fontsize=SMALL)
    end = len(left) - 1
    # On the bar and beyond it: a white edge sets the line off from the blue.
    limits = [100 * result.low, 100 * result.high]
    axes.plot(limits, [end, end], color="white", linewidth=5.0, solid_capstyle="butt", zorder=3)
    axes.plot(limits, [end, end], color=INK, linewidth=2.2, marker="|", markersize=12, markeredgewidth=2, zorder=4)
    axes.set_xlim(0, 124)
    axes.set_xticks(range(0, 101, 20))
    _rows(axes, names)
    axes.set_xlabel("trees left per 100 started;\nhatched: lost at the step", color=INK, fontsize=LABEL)
    return figure


@marks("Bars: the chance that so many started bring what is wanted; dashed: the chance asked for.")
def starts(result: Result) -> Figure:
    """The chance that so many started bring what is wanted, against the chance asked for (dashed)."""
    rows = [row for row in result.table().to_dicts() if row["started"] is not None and row["chance"] is not None]
    figure, axes = one_panel(WIDTH, 1.6 + 0.5 * len(rows))
    for at, row in enumerate(rows):
        axes.barh([at], [100 * row["chance"]], height=0.6, color=COLOURS[at % len(COLOURS)])
        told = f"{row['started']:,} started"
        axes.annotate(told, (2, at), va="center", fontsize=SMALL, color="white" if row["chance"] > 0.3 else INK)
    axes.axvline(100 * result.assurance, color=INK, linewidth=1.5, linestyle="--")
    axes.set_xlim(0, 103)
    _rows(axes, [str(row["how"]) for row in rows])
    end = f"chance of {result.wanted:,} or more at the end, %;\ndashed: the chance asked for"
    axes.set_xlabel(end, color=INK, fontsize=LABEL)
    return figure


@marks("Bars: what each step adds to the change, each beginning where the one above ends; the last: the whole change.")
def yield_change(result: Result) -> Figure:
    """What each step adds to the change as bars that end where the next begins; the whole change last."""
    parts = [(as_text(step.step), 100 * step.value) for step in result.steps]
    rows = [*parts, ("overall yield", 100 * result.value)]
    figure, axes = one_panel(WIDTH, 1.4 + 0.46 * len(rows))
    start = 0.0
    for at, (_, value) in enumerate(rows):
        last = at == len(rows) - 1
        begin = 0.0 if last else start
        axes.barh([at], [value], left=[begin], height=0.6, color=INK if last else COLOURS[at % len(COLOURS)])
        side = -1 if value < 0 else 1
        axes.annotate(
            f"{round(value, 1) + 0.0:+.1f}" if round(value, 1) else "0.0",
            (begin + value, at),
            xytext=(5 * side, 0),
            textcoords="offset points",
            va="center",
            ha="right" if side < 0 else "left",
            fontsize=SMALL,
        )
        start += value
    axes.axvline(0, color=INK, linewidth=1)
    _rows(axes, [name for name, _ in rows])
    axes.margins(x=0.18)
    axes.set_xlabel("trees per 100 started,\nlater less earlier", color=INK, fontsize=LABEL)
    return figure


def _compared_told(result: Result) -> str:
    parts = any(one.part is not None for one in result.steps)
    hatched = "; hatched: parts of the difference at the end" if parts else ""
    return f"Marks: differences of takes; lines: {{of}}intervals{hatched}."


@marks(_compared_told)
def compared(result: Result) -> Figure:
    """The difference of the take at each step and at the end, with limits; hatched: what the step adds at the end."""
    rows = [(as_text(one.step.replace("_", " ")), one.value, one.low, one.high, one.part) for one in result.steps]
    rows.append(("all steps", result.value, result.low, result.high, None))
    figure, axes = one_panel(WIDTH, 1.6 + 0.5 * len(rows))
    for at, (_, value, low, high, part) in enumerate(rows):
        if part is not None:
            axes.barh([at], [100 * part], height=0.5, facecolor="white", edgecolor=INK, hatch="///", linewidth=0.8)
        axes.plot([100 * low, 100 * high], [at, at], color=look(at)["color"], linewidth=2.2, solid_capstyle="butt")
        axes.plot([100 * value], [at], markersize=8, linestyle="none", **look(at))
    axes.axvline(0, color=INK, linewidth=1)
    _rows(axes, [name for name, *_ in rows])
    axes.margins(x=0.1)
    levels = f"{as_text(result.second)} less {as_text(result.first)}"
    axes.set_xlabel(f"points of the take, {levels};\nhatched: part of it at the end", color=INK, fontsize=LABEL)
    return figure


@marks("Marks: shares that reach the end; lines: {of}intervals.")
def by_level(result: Result) -> Figure:
    """The overall yield of each level with its limits, from 0 to 100 %."""
    name = as_text(result.column)
    rows: list[tuple[str, float | None, float | None, float | None]] = [
        (f"{name} {as_text(one.level)}", one.value, one.low, one.high) for one in result.levels
    ]
    return _rates(rows, f"of 100 {as_text(result.start.replace('_', ' '))}, those that reach the end")


@marks("Marks: shares of plants; lines: {of}intervals.")
def agreement(result: Result) -> Figure:
    """Agreement in all with its limits, by chance, and on each answer, in percent."""
    rows: list[tuple[str, float | None, float | None, float | None]] = [
        ("all answers", result.value, result.low, result.high),
        ("by chance alone", result.by_chance, None, None),
        *((f"on {as_text(one.answer)}", one.agreed, None, None) for one in result.answers),
    ]
    return _rates(rows, "plants on which two readers agree, %")


@marks("Marks: shares of plants; lines: {of}intervals.")
def early_sign(result: Result) -> Figure:
    """Rates that tell what the sign is worth, and what culling on it frees and loses; a line without a mark is open."""
    sign = as_text(result.sign)
    names = {
        "sensitivity": f"rooted: with the {sign}",
        "specificity": f"failed: without the {sign}",
        "rooted-of-with": f"with the {sign}: rooted",
        "failed-of-without": f"without the {sign}: failed",
    }
    rows = [(names[one.question], one.value, one.low, one.high) for one in result.measures if one.question in names]
    rows.append(("places freed by culling", result.freed, None, None))
    rows.append(("trees lost by culling", result.lost, result.lost_low, result.lost_high))
    return _rates(rows, "% of the plants named; of all plants by culling")


def _rates(rows: list[tuple[str, float | None, float | None, float | None]], label: str) -> Figure:
    """A line for each rate from its lower to its upper limit, with a mark at its value, from 0 to 100 %."""
    figure, axes = one_panel(WIDTH, 1.4 + 0.46 * len(rows))
    for at, (_, value, low, high) in enumerate(rows):
        if low is not None and high is not None:
            axes.plot([100 * low, 100 * high], [at, at], color=look(at)["color"], linewidth=2.2, solid_capstyle="butt")
        # Limits that meet are as good as a value.
        value = low if value is None and low == high else value
        if value is not None:
            axes.plot([100 * value], [at], markersize=8, linestyle="none", **look(at))
        elif low is None or high is None:
            axes.annotate("not known", (0.02, at), xycoords=("axes fraction", "data"), va="center", fontsize=SMALL)
    axes.set_xlim(-3, 103)
    axes.grid(axis="x", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)
    _rows(axes, [name for name, *_ in rows])
    axes.set_xlabel(label, color=INK, fontsize=LABEL)
    return figure
