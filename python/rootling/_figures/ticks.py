"""Marks of an axis that fit beside each other at the size the figure is drawn in."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Any

from matplotlib.axis import Axis
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path
from matplotlib.ticker import FuncFormatter, Locator, LogLocator, MaxNLocator, NullLocator

__all__ = ["date_axis", "plain_axis", "ratio_axis", "strength_axis", "written"]

# Of the height of the letters: what stays free between two labels, and a line of them.
APART, LINE = 0.8, 1.3
MOST, FEWEST = 9, 2
# Below so many powers of ten even steps are read more easily than 1, 2, 5.
NARROW = 0.6
WITHIN = ((1.0, 1.5, 2.0, 3.0, 5.0, 7.0), (1.0, 2.0, 3.0, 5.0), (1.0, 2.0, 5.0), (1.0, 3.0), (1.0,))
DECADES = (2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50, 100, 200)
# Numbers within these are written out.
SMALLEST, LARGEST = 1e-5, 1e7
INCH = 72.0
# The largest power of ten that a number holds with its multiples.
FARTHEST = 307


def written(value: float, _place: int | None = None) -> str:
    """A mark as it is read.

    >>> written(0.00002), written(2.0), written(1500000.0)
    ('0.00002', '2', '1500000')
    """
    if not SMALLEST <= value < LARGEST:
        return f"{value:.3g}"
    return f"{value:.10f}".rstrip("0").rstrip(".")


class _Fitting(Locator):
    """The first of several sets of marks, from fine to coarse, whose labels do not touch when they are drawn."""

    def __init__(self, sets: Callable[[float, float], Iterable[list[float]]], label: Callable[[float], str]) -> None:
        self.sets, self.label = sets, label
        self.size, self.turned = 10.0, 0.0

    def __call__(self) -> list[float]:
        assert isinstance(self.axis, Axis)
        low, high = sorted(self.axis.get_view_interval())
        return self.tick_values(low, high)

    def tick_values(self, vmin: float, vmax: float) -> list[float]:
        """The marks between two ends of the axis."""
        found: list[float] = []
        for marks in self.sets(vmin, vmax):
            found = [mark for mark in marks if vmin <= mark <= vmax]
            if self._fits(found):
                return found
        return found[:1]

    def _fits(self, marks: Sequence[float]) -> bool:
        axes = self.axis.axes  # type: ignore[union-attr]
        points = INCH * axes.bbox.width / axes.figure.dpi
        ends = axes.transAxes.inverted().transform(axes.transData.transform([(mark, 0.0) for mark in marks]))
        places = [points * float(x) for x in ends[:, 0]] if marks else []
        wide = [self._width(mark) for mark in marks]
        pairs = zip(pairwise(places), pairwise(wide), strict=True)
        return all(b - a >= 0.5 * sum(both) + APART * self.size for (a, b), both in pairs)

    def _width(self, mark: float) -> float:
        """What a label takes along the axis; turned labels lie beside each other as lines do."""
        if self.turned:
            return LINE * self.size / math.sin(math.radians(self.turned)) - APART * self.size
        font = FontProperties(size=self.size)
        return float(text_to_path.get_text_width_height_descent(self.label(mark), font, ismath=False)[0])


def _set(axis: Any, locator: _Fitting, size: float) -> None:
    locator.size = size
    axis.set_major_locator(locator)
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(FuncFormatter(lambda value, _: locator.label(value)))


def ratio_axis(axis: Any, size: float = 10.0) -> None:
    """Marks of a log axis of ratios, 1, 2, 5, 10 and so on: as many as there is room for with letters of this size."""
    _set(axis, _Fitting(_of_ratios, written), size)


def plain_axis(axis: Any) -> None:
    """Marks of an upright log axis, 1, 2, 5, 10 and so on, written out."""
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(FuncFormatter(written))
    axis.set_minor_locator(NullLocator())


def _of_ratios(low: float, high: float) -> Iterator[list[float]]:
    """Sets of marks from fine to coarse."""
    every = (marks for marks in _all_of_ratios(low, high) if marks)
    inside = ([mark for mark in marks if low <= mark <= high] for marks in every)
    yield from (marks for marks in inside if FEWEST <= len(marks) <= MOST)
    # Where no two marks fit, that of no effect stays.
    yield [1.0] if low <= 1.0 <= high else [10.0 ** round(0.5 * (math.log10(low) + math.log10(high)))]


def _all_of_ratios(low: float, high: float) -> Iterator[list[float]]:
    first, last = math.floor(math.log10(low)), min(math.ceil(math.log10(high)), FARTHEST)
    if math.log10(high) - math.log10(low) < NARROW:
        for most in range(MOST - 1, 1, -1):
            steps = MaxNLocator(most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
            yield [float(mark) for mark in steps if mark > 0]
    for within in WITHIN:
        yield [m * 10.0**k for k in range(first, last + 1) for m in within]
    for step in DECADES:
        yield [10.0**k for k in range(first, last + 1) if k % step == 0]


def strength_axis(axis: Any, labels: dict[float, str], *, size: float = 10.0, turned: float = 0.0) -> None:
    """Marks at tested strengths, by their place; where they come too near the ends stay, and what fits between."""
    locator = _Fitting(lambda low, high: _thinned(sorted(labels)), lambda place: labels.get(place, ""))
    locator.turned = turned
    _set(axis, locator, size)


def _thinned(places: list[float]) -> Iterator[list[float]]:
    """All places, then ever fewer: of two neighbours that are nearest the one that is no end goes."""
    kept = list(places)
    while kept:
        yield list(kept)
        gaps = [b - a for a, b in pairwise(kept)]
        if len(kept) <= FEWEST:
            kept.pop()
            continue
        kept.pop(max(1, gaps.index(min(gaps))))


def date_axis(axes: Any) -> None:
    """Marks an axis of days, few enough to be read."""
    locator: Any = AutoDateLocator(maxticks=7)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
