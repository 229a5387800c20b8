"""Single trays beside their rate: equal ones side by side, or as one mark with its count where there is no room."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from rootling._figures.room import width
from rootling._figures.style import GREY

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Of a figure's width and height, its axes; by how much marks shrink at the width of a column; points between two.
ACROSS, UP, SHRUNK, GAP = 0.8, 0.72, 0.75, 1.6
POINTS = 72.0


class Room(NamedTuple):
    """How large a mark is, in units of the two axes: along the values, and across them."""

    along: float
    across: float


def room_of(axes: Axes, size: float, spans: tuple[float, float], *, lying: bool = False) -> Room:
    """What a mark of ``size`` (square points) takes of axes that reach over ``spans`` (x, y).

    ``lying`` where the values run along x.
    """
    wide, high = (float(side) for side in axes.get_figure().get_size_inches())  # type: ignore[union-attr]
    asked = width()
    wide = wide if asked is None else min(wide, asked / SHRUNK)
    mark = math.sqrt(size) + GAP
    x, y = mark * spans[0] / (ACROSS * wide * POINTS), mark * spans[1] / (UP * high * POINTS)
    return Room(x, y) if lying else Room(y, x)


def beside(values: Sequence[float], most: int, near: float) -> list[tuple[float, int, int]]:
    """Each mark as its value, its slot (0, 1, 2 ...) and how many trays it stands for.

    Parameters
    ----------
    values : list of float
        Of the trays.
    most : int
        Slots that there is room for.
    near : float
        Values that are nearer than this would lie over each other in one slot.

    Examples
    --------
    >>> beside([50, 50, 50, 80], 3, 2.0)
    [(50, 0, 1), (50, 1, 1), (50, 2, 1), (80, 0, 1)]
    >>> beside([50, 50, 50, 51], 2, 2.0)
    [(50, 0, 3), (51, 1, 1)]
    """
    last = [-math.inf] * max(1, most)
    found = []
    for value, count in sorted(Counter(values).items()):
        free = [slot for slot, before in enumerate(last) if value - before >= near]
        if count <= len(free):
            places = [(slot, 1) for slot in free[:count]]
        elif count <= len(last) and all(before < value for before in last):
            # No slot is quite free: marks that lie over others in part are still seen, those over equals are not.
            places = [(slot, 1) for slot in sorted(range(len(last)), key=lambda slot: last[slot])[:count]]
        else:
            places = [(min(range(len(last)), key=lambda slot: (last[slot] > value - near, slot)), count)]
        for slot, times in places:
            last[slot] = value
            found.append((value, slot, times))
    return found


def told(axes: Axes, at: tuple[float, float], count: int, *, side: int = 1, size: float = 8) -> None:
    """How many trays a mark stands for: to the left (-1), below (0) or to the right (1) of it."""
    if count > 1:
        axes.annotate(
            f"x {count}",
            at,
            xytext=(4 * side, 0 if side else -4),
            textcoords="offset points",
            ha={1: "left", 0: "center"}.get(side, "right"),
            va="center" if side else "top",
            fontsize=size,
            color=GREY,
            zorder=5,
        )


def middle(slot: int) -> int:
    """Slots from the middle outwards: 0, 1, -1, 2, -2.

    >>> [middle(slot) for slot in range(5)]
    [0, 1, -1, 2, -2]
    """
    return (slot + 1) // 2 * (1 if slot % 2 else -1)


def drawn(axes: Axes, marks: Sequence[tuple[float, float, int]], side: int, **look: Any) -> None:
    """Marks at their places, with counts; ``side`` is where a count stands."""
    axes.scatter([x for x, _, _ in marks], [y for _, y, _ in marks], facecolors="none", **look)
    for x, y, count in marks:
        told(axes, (x, y), count, side=side)
