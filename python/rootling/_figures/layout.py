"""The map of the benches: each tray at its position, with its code and, unless the map is blind, what it gets."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures import room
from rootling._figures.captions import marks
from rootling._figures.style import COLOURS, FAINT, INK, as_text, key_of, one_panel

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Benches side by side, and those that a figure has room for.
ACROSS = 3
MOST = 60
# Letters that a tray has room for; entries of a key below the map, height of a line and width of a letter in inches.
ROOM = 16
TOLD = 240
LINE, LETTER = 0.17, 0.062
HATCHES = ("", "///", "...", "xxx", "\\\\\\", "+++")


@marks("Each tray at its position with its code; colour and hatching: what it gets. Rows are counted from the top.")
def bench_map(result: Result, *, blind: bool = False) -> Figure:
    """Every bench with its positions; combinations differ by colour and by hatching."""
    from rootling._figures.paper import PaperFigure

    every = list(dict.fromkeys(tray.bench for tray in result.trays))
    benches = every[:MOST]
    more = f"; the first {MOST} of {len(every)} benches" if len(every) > MOST else ""
    kinds = list(dict.fromkeys(tuple(tray.levels) for tray in sorted(result.trays, key=lambda tray: tray.levels)))
    across = room.across(min(ACROSS if result.columns <= 6 else 1, len(benches)), 2.3)
    down = -(-len(benches) // across)
    wide, high = 0.95 * result.columns + 0.5, 0.62 * result.rows + 0.6
    said = [" x ".join(map(as_text, levels)) for levels in kinds]
    keyed = not blind and any(len(one) > ROOM for one in said)
    width = min(16, max(4, across * wide, LETTER * max(map(len, said)) + 0.8 if keyed else 0))
    beside = max(1, min(len(kinds), int(width / (LETTER * max(map(len, said)) + 0.8))))
    below = LINE * -(-min(TOLD, len(kinds)) // beside) + 0.2 if keyed else 0
    figure = PaperFigure(figsize=(width, min(40, down * high + 0.6) + below), layout="constrained")
    panels = figure.subplots(down, across, squeeze=False).ravel()
    for axes in panels[len(benches) :]:
        axes.set_axis_off()
    for axes, bench in zip(panels, benches, strict=False):
        axes.set_xlim(0.5, result.columns + 0.5)
        axes.set_ylim(result.rows + 0.5, 0.5)
        axes.set_title(as_text(_title(result, bench)), fontsize=9, color=INK, loc="left")
        axes.set_xticks(range(1, result.columns + 1))
        axes.set_yticks(range(1, result.rows + 1))
        axes.tick_params(labelsize=7, length=0, colors=INK)
        axes.spines[:].set_color(FAINT)
        for tray in result.trays:
            if tray.bench == bench:
                kind = kinds.index(tuple(tray.levels))
                _tray(axes, tray, None if blind else (kind, str(kind + 1) if keyed else said[kind]))
    if keyed:
        _key(figure, said, beside)
    figure.suptitle(f"Plan {result.fingerprint}; rows counted from the top{more}", fontsize=9, color=INK)
    return figure


def _key(figure: Figure, said: list[str], beside: int) -> None:
    """What the numbers on the trays stand for, in full."""
    from matplotlib.patches import Patch

    told = [f"{at + 1}  {one}" for at, one in enumerate(said[:TOLD])]
    if len(said) > TOLD:
        told[-1] = f"{TOLD} to {len(said)}: see the key"
    patches = [Patch(**_look(at)) for at in range(len(told))]
    key_of(figure, handles=patches, labels=told, loc="outside lower left", ncols=beside, fontsize=7, labelcolor=INK)


def _look(kind: int) -> dict[str, Any]:
    colour, hatch = COLOURS[kind % len(COLOURS)], HATCHES[kind // len(COLOURS) % len(HATCHES)]
    return {"facecolor": colour, "alpha": 0.35, "edgecolor": INK, "linewidth": 0, "hatch": hatch}


def _title(result: Result, bench: str) -> str:
    """The bench, and its block where that is another name."""
    blocks = {tray.block for tray in result.trays if tray.bench == bench} - {None, bench}
    return f"bench {bench}, block {blocks.pop()}" if len(blocks) == 1 else f"bench {bench}"


def _tray(axes: Any, tray: Any, shown: tuple[int, str] | None) -> None:
    from matplotlib.patches import Rectangle

    look: dict[str, Any] = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.6}
    axes.add_patch(Rectangle((tray.column - 0.46, tray.row - 0.44), 0.92, 0.88, **look))
    if shown is None:
        axes.text(tray.column, tray.row, tray.tray, ha="center", va="center", fontsize=9, color=INK)
        return
    kind, text = shown
    axes.add_patch(Rectangle((tray.column - 0.46, tray.row - 0.44), 0.92, 0.88, **_look(kind)))
    axes.text(tray.column, tray.row - 0.2, tray.tray, ha="center", va="center", fontsize=6, color=INK)
    axes.text(tray.column, tray.row + 0.15, text, ha="center", va="center", fontsize=7, color=INK)


@marks("Bars: differences in other layouts of the same set; line: the difference of this layout.")
def dealt_anew(result: Result) -> Figure:
    """Differences of other layouts of the set, and the one that was found."""
    figure, axes = one_panel()
    width = 200 * result.reach / len(result.counts)
    left = [-100 * result.reach + at * width for at in range(len(result.counts))]
    axes.bar(left, result.counts, width=width, align="edge", color=COLOURS[4], edgecolor=INK, linewidth=0.4)
    axes.axvline(100 * result.value, color=COLOURS[1], linewidth=2)
    second, first = as_text(result.second), as_text(result.first)
    axes.set_xlabel(f"{second} minus {first}, points; line: this layout", color=INK)
    axes.set_ylabel("other layouts of the set", color=INK)
    return figure
