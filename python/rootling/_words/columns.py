"""Names of the columns of a table, without twins."""

from __future__ import annotations

from rootling import _core


def own_names(names: list[str]) -> list[str]:
    """Column names without twins: columns of the trial come first, and give way to the result's own.

    >>> own_names(["level", "value", "level"])
    ['level (your column)', 'value', 'level']
    """
    return _core.report.own_names(names)
