"""Numbers as they are read; the core writes them."""

from __future__ import annotations

from rootling import _core


def written(value: float, scale: str) -> str:
    """A number as a table shows it, by what it is: ``"rate"``, ``"difference"``, ``"strength"``, ``"p"``, ...

    >>> written(0.4375, "rate"), written(0.0002, "rate"), written(0.283, "difference"), written(3e-9, "p")
    ('43.8 %', '< 0.1 %', '+28.3 points', '< 0.001')
    """
    return _core.report.written(value, scale)
