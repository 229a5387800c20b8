"""Tables of counts: chi-square and exact tests of association; cuttings count as independent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._results import Result
from rootling._types import Level

__all__ = ["Association", "TableTest", "chi_square", "fisher"]


class Association(Result):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


class TableTest(Result):
    """The test of a table of counts."""

    kind = "table_test"


def _plain(table: Any) -> list[list[int]]:
    from rootling.exceptions import CountError

    rows = table.tolist() if hasattr(table, "tolist") else table
    try:
        whole = [[int(entry) for entry in row] for row in rows]
        same = all(a == b for row, given in zip(whole, rows, strict=True) for a, b in zip(row, given, strict=True))
    except (TypeError, ValueError, OverflowError):
        same = False
    if not same or any(entry < 0 for row in whole for entry in row):
        raise CountError("a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]")
    return whole


def chi_square(table: Sequence[Sequence[int]]) -> Result:
    """Pearson and likelihood-ratio chi-square of a table of counts.

    Parameters
    ----------
    table : list of rows
        Counts; at least 2 x 2.

    Returns
    -------
    Result
        With both tests, their degrees of freedom and P values, and the counts expected without association.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.tables.chi_square([[156, 84], [107, 133]]).table().height >= 1
    True
    """
    return Result.from_dict(_core.tables.chi_square(_plain(table)))


def fisher(table: Sequence[Sequence[int]], *, level: Level = 0.95) -> Result:
    """Fisher's exact test of a 2 x 2 table.

    Parameters
    ----------
    table : list of 2 rows of 2
        Counts.
    level : float
        Confidence level of the odds ratio's exact interval.

    Returns
    -------
    Result

    Examples
    --------
    >>> import rootling as rl
    >>> rl.tables.fisher([[20, 0], [14, 6]]).table().height >= 1
    True
    """
    return Result.from_dict(_core.tables.fisher(_plain(table), level))
