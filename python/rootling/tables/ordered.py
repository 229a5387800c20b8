"""Groups and factors with an order: trends."""

from __future__ import annotations

from collections.abc import Sequence

from rootling import _core
from rootling._given import whole_table
from rootling.tables.entries import DRAWS, WORK, exact_options, scores_of, whole_counts
from rootling.tables.results import LinearByLinear, PlainTrend


def trend(
    rooted: Sequence[int],
    stuck: Sequence[int],
    *,
    scores: Sequence[float] | None = None,
    work: int = WORK,
    draws: int = DRAWS,
    seed: int = 1,
) -> PlainTrend:
    """Does rooting rise or fall along ordered groups? Cochran-Armitage test, asymptotic and exact.

    Parameters
    ----------
    rooted, stuck : list of int
        Cuttings rooted and set, one entry for each group.
    scores : list of float, optional
        Where each group lies, for example its strength; 0, 1, 2, ... when left out.
    work, draws, seed : int
        Steps of exact work allowed, tables drawn beyond it, and their seed.

    Returns
    -------
    PlainTrend
        ``z`` (above 0 for a rise), ``asymptotic``, ``exact`` with its one-sided, mid-P and three two-sided P values,
        ``slope`` of the rate per unit of score, and ``departure`` from a straight line. ``exact.p`` goes by
        probability, as Fisher's test; ``doubled`` and ``by_distance`` are the other two-sided definitions. Where exact
        work is too much ``exact.method`` is ``"drawn"``, with ``se``.

    Raises
    ------
    CountError
        When lists differ in length, scores are all the same, or all or none rooted.

    Notes
    -----
    Not for cuttings in trays: load the trial and use ``trial.trend``.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.tables.trend([1, 2, 4, 7], [10, 10, 10, 10])
    >>> round(found.z, 3), round(found.exact.p_higher, 5)
    (2.965, 0.00216)
    """
    first, second = whole_counts(rooted, stuck)
    chosen = list(range(len(first))) if scores is None else scores
    return PlainTrend(_core.tables.trend(first, second, scores_of(chosen, "scores"), exact_options(work, draws, seed)))


def linear_by_linear(
    table: Sequence[Sequence[int]],
    *,
    row_scores: Sequence[float] | None = None,
    column_scores: Sequence[float] | None = None,
    work: int = WORK,
    draws: int = DRAWS,
    seed: int = 1,
) -> LinearByLinear:
    """Linear association of two ordered factors: high scores of one with high scores of the other.

    Parameters
    ----------
    table : list of rows
        Counts; rows and columns in their order.
    row_scores, column_scores : list of float, optional
        Scores; 1, 2, 3, ... when left out.
    work, draws, seed : int
        Steps of exact work allowed, tables drawn beyond it, and their seed.

    Returns
    -------
    LinearByLinear
        ``correlation`` of the scores, ``asymptotic`` chi-square, and ``p`` over tables with the same margins with
        its ``method``.

    Raises
    ------
    CountError
        When the table is not one, or scores do not go with it.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.tables.linear_by_linear([[9, 1], [8, 2], [6, 4], [3, 7]])
    >>> round(found.asymptotic.statistic, 3), found.method
    (8.571, 'exact')
    """
    rows = whole_table(table)
    first = list(range(1, len(rows) + 1)) if row_scores is None else row_scores
    second = list(range(1, len(rows[0]) + 1 if rows else 1)) if column_scores is None else column_scores
    options = exact_options(work, draws, seed)
    return LinearByLinear(
        _core.tables.linear_by_linear(rows, scores_of(first, "row scores"), scores_of(second, "column scores"), options)
    )
