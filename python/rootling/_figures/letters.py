"""Letters above intervals, each where it covers no tray, no interval and no other letters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

# Pixels that stay free; of the axes' height the room above the highest letters; rounds in which all find a place.
APART, ROOM, ROUNDS = 3.0, 0.02, 6
POINTS = 72.0

Box = tuple[float, float, float, float]


def free(figure: Any, axes: Any, letters: Sequence[Any]) -> None:
    """Lifts letters until nothing is under them, now and whenever the figure is set at another width."""

    def place() -> None:
        for _ in range(ROUNDS):
            figure.draw_without_rendering()
            if not _lifted(figure, axes, letters) and not _room(axes, letters):
                break

    figure.places.append(place)
    place()


def _lifted(figure: Any, axes: Any, letters: Sequence[Any]) -> bool:
    """One round from the left to the right; true where a letter moved."""
    covered, moved = _marks(axes), False
    for letter in sorted(letters, key=lambda one: one.get_window_extent().x0):
        box = letter.get_window_extent()
        up = _up((box.x0, box.y0, box.x1, box.y1), covered)
        if up > 0:
            letter.xyann = (letter.xyann[0], letter.xyann[1] + up * POINTS / figure.dpi)
            moved = True
        covered.append((box.x0, box.y0 + up, box.x1, box.y1 + up))
    return moved


def _up(box: Box, covered: Sequence[Box]) -> float:
    """How far a box has to be lifted to be free of all others."""
    left, low, right, high = box
    up = 0.0
    for x0, y0, x1, y1 in sorted(covered, key=lambda one: one[1]):
        beside = x1 + APART <= left or x0 - APART >= right
        if not beside and y1 + APART > low + up and y0 - APART < high + up:
            up = y1 + APART - low
    return up


def _marks(axes: Any) -> list[Box]:
    """What letters may not cover, in pixels: single trays, estimates and the ends of their intervals."""
    to, scale = axes.transData, axes.figure.dpi / POINTS
    found: list[Box] = []
    for drawn in axes.collections:
        sizes = list(drawn.get_sizes()) if hasattr(drawn, "get_sizes") else []
        reach = 0.5 * scale * (max(sizes) ** 0.5) if sizes else 0.0
        for segment in [] if sizes else drawn.get_segments() if hasattr(drawn, "get_segments") else []:
            (x, low), (_, high) = to.transform(segment[[0, -1]])
            found.append((x - scale, min(low, high), x + scale, max(low, high)))
        for x, y in to.transform(drawn.get_offsets()) if sizes else []:
            found.append((x - reach, y - reach, x + reach, y + reach))
    for line in axes.lines:
        if line.get_marker() not in (None, "None", ""):
            reach = 0.5 * scale * line.get_markersize()
            found += [(x - reach, y - reach, x + reach, y + reach) for x, y in to.transform(line.get_xydata())]
    return found


def _room(axes: Any, letters: Sequence[Any]) -> bool:
    """Room above the highest letters; true where the axis had to grow."""
    box = axes.get_window_extent()
    top = max(letter.get_window_extent().y1 for letter in letters)
    if top <= box.y1 - APART:
        return False
    low, high = axes.get_ylim()
    share = (top - box.y0) / box.height
    axes.set_ylim(low, low + (high - low) * (share + ROOM))
    return True
