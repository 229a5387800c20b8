"""Tables of counts: chi-square and exact tests of association; cuttings count as independent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._results import Figures, Result
from rootling.exceptions import CountError

__all__ = ["Association", "chi_square", "fisher", "three_way"]


class Association(Result):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


def _plain(table: Any) -> list[list[int]]:
    rows = table.tolist() if hasattr(table, "tolist") else table
    try:
        whole = [[int(entry) for entry in row] for row in rows]
        same = all(a == b for row, given in zip(whole, rows, strict=True) for a, b in zip(row, given, strict=True))
    except (TypeError, ValueError, OverflowError):
        same = False
    if not same or any(entry < 0 for row in whole for entry in row):
        raise CountError("a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]")
    return whole


def chi_square(table: Sequence[Sequence[int]]) -> Figures:
    """Pearson and likelihood-ratio chi-square of a table of counts.

    Parameters
    ----------
    table : list of rows
        Counts; at least 2 x 2.

    Returns
    -------
    Figures
        ``pearson``, ``likelihood_ratio`` and, for 2 x 2, ``corrected``, each with ``statistic``, ``dof``, ``p_value``;
        the counts ``expected`` without association, ``smallest_expected`` and the standardised ``residuals``.

    Raises
    ------
    CountError
        When the table is too small, ragged, or has a row or column without any plant.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.chi_square([[156, 84], [84, 156]]).pearson.statistic, 1)
    43.2
    """
    return Figures(_core.tables.chi_square(_plain(table)))


def fisher(table: Sequence[Sequence[int]]) -> Figures:
    """Fisher's exact test of a 2 x 2 table.

    Parameters
    ----------
    table : list of 2 rows of 2
        Counts.

    Returns
    -------
    Figures
        Two-sided ``p_value``, one-sided ``less`` and ``greater``, their ``mid_p`` forms, and the conditional
        ``odds_ratio`` with its exact 95 % interval.

    Raises
    ------
    CountError
        When the table is not 2 x 2.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.fisher([[20, 0], [14, 6]]).p_value, 4)
    0.0202
    """
    return Figures(_core.tables.fisher(_plain(table)))


def three_way(table: Sequence[Sequence[Sequence[int]]]) -> Figures:
    """Bartlett's test of no three-factor interaction in a 2 x 2 x 2 table.

    It asks whether the odds ratio of two factors is the same at both levels of the third.

    Parameters
    ----------
    table : list of 2 tables of 2 rows of 2
        Counts, for example planting by length by (alive, dead). The order of the three factors does not matter.

    Returns
    -------
    Figures
        ``pearson`` and ``likelihood_ratio``, each with ``statistic``, ``dof``, ``p_value``, and the counts ``expected``
        without a three-factor interaction.

    Raises
    ------
    CountError
        When the table is not 2 x 2 x 2, or zeros leave nothing to test.

    Notes
    -----
    Plants count as independent: not for counts from trays; fit a model with an interaction instead.

    Examples
    --------
    >>> import rootling as rl
    >>> plums = [[[156, 84], [107, 133]], [[84, 156], [31, 209]]]
    >>> round(rl.tables.three_way(plums).pearson.statistic, 2)
    2.27
    """
    layers = table.tolist() if hasattr(table, "tolist") else table
    try:
        whole = [_plain(layer) for layer in layers]
    except TypeError:
        whole = []
    if [[len(row) for row in layer] for layer in whole] != [[2, 2], [2, 2]]:
        raise CountError("a three-way table holds 2 x 2 x 2 counts, for example [[[5, 3], [4, 4]], [[6, 2], [3, 5]]]")
    return Figures(_core.tables.three_way(whole))
