"""Tables of one tray or of several, as the core takes them."""

from __future__ import annotations

from typing import Any

from rootling._given import is_frame, layers_of, whole_table
from rootling.exceptions import CountError


def tables_of_trays(given: Any) -> list[list[list[int]]]:
    """A table for each tray; a single table stands for plants of no tray in particular.

    >>> tables_of_trays([[40, 9], [6, 45]])
    [[[40, 9], [6, 45]]]
    >>> len(tables_of_trays([[[9, 1], [0, 10]], [[7, 3], [2, 8]]]))
    2
    """
    if is_frame(given):
        return [whole_table(given)]
    layers = layers_of(given) if _deep(given) else [given]
    return [whole_table(layer) for layer in layers]


def _deep(given: Any) -> bool:
    """True where the entries of the rows are rows themselves, or frames are listed."""
    if hasattr(given, "ndim"):
        return int(given.ndim) > 2
    try:
        first = next(iter(given))
        return is_frame(first) or getattr(first, "ndim", 1) > 1 or not hasattr(next(iter(first)), "__index__")
    except (TypeError, StopIteration):
        return False


def pairs_of_trays(name: str, given: Any, trays: int) -> list[list[int]]:
    """Two whole numbers for each tray; a single pair where there is one table.

    >>> pairs_of_trays("unread", (0, 60), 1)
    [[0, 60]]
    """
    try:
        entries = list(given)
        rows = whole_table(
            [entries] if trays == 1 and len(entries) == 2 and not hasattr(entries[0], "__len__") else entries
        )
    except (TypeError, CountError):
        rows = []
    if len(rows) != trays or any(len(row) != 2 for row in rows):
        line = (
            f"{name}=(0, 60)"
            if trays == 1
            else f"{name}=[{', '.join(['(0, 60)'] * min(trays, 3))}{', ...' if trays > 3 else ''}]"
        )
        raise CountError(
            f"{name} is two whole numbers of plants for each table, with and without the sign, and there "
            f"{'is 1 table' if trays == 1 else f'are {trays} tables'}; write {line}"
        )
    return rows
