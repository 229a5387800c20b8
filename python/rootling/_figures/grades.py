"""Grades: a bar of each level, a piece for each grade, with the share that reaches the grade asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._figures.captions import marks
from rootling._figures.style import INK, as_text, key_of, one_panel, with_unit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results import Result

# Greys from the lowest grade to the one below that asked for, and blues from there on; hatched where it does not reach.
BELOW, REACHING = (0.93, 0.55), (0.62, 0.12)


def _shades(number: int, ends: tuple[float, float]) -> list[float]:
    """Evenly spaced between two ends."""
    first, last = ends
    return [first + (last - first) * (at / (number - 1) if number > 1 else 0.5) for at in range(number)]


def _pieces(result: Result) -> list[tuple[str, int, Any, str]]:
    """Name, place in the counts, colour and hatch of each piece, from the best grade on."""
    lowest, highest, at_least = result.lowest, result.highest, result.at_least
    grades = list(range(highest, lowest - 1, -1))
    blues = _shades(sum(one >= at_least for one in grades), REACHING)[::-1]
    greys = _shades(sum(one < at_least for one in grades) + 1, BELOW)[::-1]
    pieces = []
    for grade in grades:
        reaches = grade >= at_least
        shade = (blues if reaches else greys).pop(0)
        colour = (0.55 * shade, 0.75 * shade + 0.1, 0.55 + 0.4 * shade) if reaches else (shade, shade, shade)
        pieces.append((f"grade {grade}", grade - lowest + 1, colour, "" if reaches else "///"))
    if any(level.counts[0] for level in result.levels):
        pieces.append(("no root, no grade", 0, (1.0, 1.0, 1.0), "..."))
    return pieces


@marks(
    "Bars: grades, the best at the left, those below the grade asked for hatched. Points: shares; lines: {of}intervals."
)
def grades(result: Result) -> Figure:
    """A bar of each level cut into its grades, the best at the left, and the share that reaches the grade asked for."""
    levels, pieces = list(result.levels), _pieces(result)
    figure, axes = one_panel(height=1.6 + 0.62 * len(levels))
    places = list(range(len(levels)))[::-1]
    left = [0.0] * len(levels)
    for name, at, colour, hatch in pieces:
        shares = [100 * level.counts[at] / max(level.n_cuttings, 1) for level in levels]
        axes.barh(
            places,
            shares,
            left=left,
            height=0.56,
            color=[colour],
            hatch=hatch,
            edgecolor=INK,
            linewidth=0.4,
            label=name,
        )
        left = [before + share for before, share in zip(left, shares, strict=True)]
    for place, level in zip(places, levels, strict=True):
        above = place + 0.38
        axes.plot([100 * level.low, 100 * level.high], [above, above], color=INK, linewidth=1.4)
        axes.plot([100 * level.value], [above], marker="o", markersize=4.5, color=INK)
    axes.set_yticks(places, [as_text(level.level) for level in levels])
    axes.set_ylim(-0.6, len(levels) - 0.4)
    axes.set_xlim(0, 100)
    axes.set_ylabel(as_text(with_unit(result, result.factor)), color=INK)
    axes.set_xlabel(f"cuttings, % (points: grade {result.at_least} or better)", color=INK)
    key_of(axes, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return figure
