"""Tables of counts: chi-square and exact tests of association; cuttings count as independent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._results import Figures, Result
from rootling._types import Level, PairedMethod, UnconditionalMethod
from rootling.exceptions import CountError

__all__ = [
    "Association",
    "Paired",
    "UnconditionalTest",
    "chi_square",
    "fisher",
    "paired",
    "three_way",
    "unconditional",
]


class Association(Result):
    """A treatment against rooting, cuttings counted as independent."""

    kind = "association"


class UnconditionalTest(Result):
    """An exact test that fixes the two group sizes only."""

    kind = "unconditional_test"


class Paired(Result):
    """Two rates within pairs."""

    kind = "paired"


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
        Two-sided ``p_value`` (all tables not more probable than the observed one, with relative slack 1e-7), the other
        two-sided definitions ``doubled`` and ``blaker``, one-sided ``less`` and ``greater``, their ``mid_p`` forms,
        and the conditional ``odds_ratio`` with its exact 95 % interval.

    Raises
    ------
    CountError
        When the table is not 2 x 2 or holds more than 10^9 plants.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.fisher([[20, 0], [14, 6]]).p_value, 4)
    0.0202
    """
    return Figures(_core.tables.fisher(_plain(table)))


def unconditional(
    table: Sequence[Sequence[int]], *, method: UnconditionalMethod = "boschloo", level: Level = 0.95
) -> UnconditionalTest:
    """Exact test of two rates that fixes the group sizes only, not the number rooted.

    Parameters
    ----------
    table : list of 2 rows of 2
        Groups in rows; those that rooted in the first column.
    method : str
        What makes a table more extreme: ``"boschloo"`` a smaller P of Fisher's test, ``"barnard"`` a larger score
        statistic with pooled variance (after Suissa and Shuster), ``"barnard-unpooled"`` a larger Wald statistic.
    level : float
        Confidence level of the interval of the difference.

    Returns
    -------
    UnconditionalTest
        Two-sided ``p_value`` (ordered by Fisher's two-sided P or the size of the statistic), one-sided ``less`` and
        ``greater``, ``doubled`` (twice the smaller), and the difference ``value`` with its limits.

    Raises
    ------
    CountError
        When the table is not 2 x 2 or holds more than 20,000 plants.

    Notes
    -----
    Boschloo's is the default: its P is never above that of Fisher's test. Less conservative than Fisher's when, as in a
    trial, nobody fixed how many would root. Not for cuttings that share trays.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.unconditional([[8, 2], [1, 5]], method="barnard").p_value, 4)
    0.0167
    """
    return UnconditionalTest(_core.tables.unconditional(_plain(table), method, level))


def paired(table: Sequence[Sequence[int]], *, method: PairedMethod = "tango", level: Level = 0.95) -> Paired:
    """Two rates within pairs: McNemar's tests and the difference with its interval.

    Parameters
    ----------
    table : list of 2 rows of 2
        Pairs: ``[[both rooted, first only], [second only, neither]]``.
    method : str
        Interval of the difference: ``"tango"`` (score) or ``"newcombe"`` (from Wilson limits and the correlation).
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Paired
        ``p_value`` (mid-P), ``tests`` (exact, mid-p, asymptotic, asymptotic-corrected), the difference ``value`` with
        its limits, the ``odds_ratio`` within pairs with exact limits.

    Raises
    ------
    CountError
        When the table is not 2 x 2 or holds no pair.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.paired([[4, 9], [3, 16]]).p_value, 4)
    0.0923
    """
    return Paired(_core.tables.paired(_plain(table), method, level))


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
