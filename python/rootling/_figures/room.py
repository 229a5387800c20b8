"""The room that a figure has: widths to choose from, and how many panels stand side by side."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

# Widths of a column and of a page, in mm; mm of an inch.
WIDTHS = {"85 mm": 85, "180 mm": 180}
INCH = 25.4

_ROOM: ContextVar[float | None] = ContextVar("room", default=None)


@contextmanager
def held(inches: float) -> Iterator[None]:
    """Within it figures are drawn for this width."""
    before = _ROOM.set(inches)
    try:
        yield
    finally:
        _ROOM.reset(before)


def width() -> float | None:
    """The width asked for in inches, or none."""
    return _ROOM.get()


def across(most: int, each: float) -> int:
    """Panels side by side that need so many inches each, where a width is asked for.

    >>> across(3, 2.5)
    3
    >>> with held(3.35):
    ...     across(3, 2.5)
    1
    """
    wide = width()
    return most if wide is None else max(1, min(most, int(wide / each)))
