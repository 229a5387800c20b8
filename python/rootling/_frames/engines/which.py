"""Rows by what stands in them, as an expression that any engine runs, and what is asked of rows that are alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from operator import and_, or_
from typing import Any

__all__ = ["Asked", "Which"]


@dataclass(frozen=True)
class Asked:
    """What lines of rows that are alike are to say: in the column ``times`` how many rows, ``most`` lines at most.

    In the column ``first``, where it is named and rows are numbered, the number of the first of these rows; ``outcome``
    is a column that nearly always says yes or no, which some engines count faster apart.
    """

    times: str
    most: int
    first: str | None = None
    outcome: str | None = None


@dataclass(frozen=True)
class Which:
    """Rows that hold one of some entries in a column, or one of some lines in several."""

    entries: Mapping[str, Sequence[Any]] = field(default_factory=dict)
    lines: Sequence[Mapping[str, Any]] = ()

    def told_to(self, library: Any) -> Any:
        """The expression in the words of a library whose columns are ``library.col(name)``."""
        parts = [_one_of(library.col(name), entries) for name, entries in self.entries.items()]
        for line in self.lines:
            parts.append(reduce(and_, (_one_of(library.col(name), [entry]) for name, entry in line.items())))
        return reduce(or_, parts)


def _one_of(column: Any, entries: Sequence[Any]) -> Any:
    """True where the column holds one of the entries, a gap among them."""
    filled = [one for one in entries if one is not None and one == one]
    parts = [column.is_in(filled)] if filled else []
    parts += [column.is_null()] if None in entries else []
    parts += [column.is_nan()] if any(one != one for one in entries) else []
    # Without an answer a row is not one of them.
    return reduce(or_, (part.fill_null(value=False) for part in parts))
