"""How wide the columns of a table on paper are: as their longest entry, but for words where all are too wide."""

from __future__ import annotations

from collections.abc import Callable, Sequence

# Letters between two columns; the fewest of a column of words.
GAP, FEWEST = 2, 8


def shared(
    table: tuple[Sequence[str], Sequence[Sequence[str]], Sequence[bool]], line: int, letters: Callable[[str], int] = len
) -> tuple[bool, list[float]]:
    """True where every column can be as wide as its longest entry, and the letters that each has.

    Parameters
    ----------
    table : tuple
        Heads, rows, and which columns are numbers.
    line : int
        Letters that a line holds.
    letters : callable
        How many letters of an entry are read.

    Examples
    --------
    >>> shared((["what", "value"], [["take rate", "37.5 %"]], [False, True]), 40)
    (True, [9, 6])
    >>> shared((["what", "value"], [["take rate at 2500 mg/L", "37.5 %"]], [False, True]), 20)
    (False, [9.0, 7])
    """
    heads, rows, numeric = table
    room = line - GAP * len(heads)
    columns = list(zip(heads, *rows, strict=True))
    longest = [max(map(letters, column)) for column in columns]
    if sum(longest) <= room:
        return True, [*longest]
    # A head may break between its words, an entry that is a number may not.
    needed = [_unbroken(column, letters) if number else 0 for column, number in zip(columns, numeric, strict=True)]
    words = sum(length for length, number in zip(longest, numeric, strict=True) if not number) or 1
    left = max(room - sum(needed), FEWEST * sum(not number for number in numeric))
    wide = [need or max(FEWEST, left * length / words) for need, length in zip(needed, longest, strict=True)]
    return False, wide


def _unbroken(column: tuple[str, ...], letters: Callable[[str], int]) -> int:
    """The longest word of a head, or the longest entry below it."""
    return 1 + max([*(letters(word) for word in column[0].split()), *map(letters, column[1:])])
