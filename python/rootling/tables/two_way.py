"""Tables of rows and columns: chi-square and exact tests, and rates within pairs."""

from __future__ import annotations

from collections.abc import Sequence

from rootling import _core
from rootling._given import whole_table
from rootling._given.choices import Confidence, PairedMethod, Progress, UnconditionalMethod
from rootling.tables.entries import DRAWS, WORK, exact_options
from rootling.tables.results import ChiSquare, Fisher, FreemanHalton, Paired, UnconditionalTest


def chi_square(table: Sequence[Sequence[int]]) -> ChiSquare:
    """Pearson and likelihood-ratio chi-square of a table of counts.

    Parameters
    ----------
    table : list of rows
        Counts; at least 2 x 2.

    Returns
    -------
    ChiSquare
        ``pearson``, ``likelihood_ratio`` and, for 2 x 2, ``corrected``, each with ``statistic``, ``df``, ``p``;
        the counts ``expected`` without association, ``smallest_expected``, the standardised ``residuals`` (beyond 2 or
        3 either way they say which cells carry an association), and ``sentence``.

    Raises
    ------
    CountError
        When the table is too small, ragged, or has a row or column without any plant.

    Notes
    -----
    Pearson's statistic without correction is the one to report: Yates's correction (``corrected``) makes P values about
    as large as Fisher's doubled ones. With expected counts below 5 use an exact test.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.chi_square([[156, 84], [84, 156]]).pearson.statistic, 1)
    43.2
    """
    return ChiSquare(_core.tables.chi_square(whole_table(table)))


def fisher(table: Sequence[Sequence[int]]) -> Fisher:
    """Fisher's exact test of a 2 x 2 table.

    Parameters
    ----------
    table : list of 2 rows of 2
        Counts.

    Returns
    -------
    Fisher
        Two-sided ``p`` (all tables not more probable than the observed one, with relative slack 1e-7), the other
        two-sided definitions ``doubled`` and ``blaker``, one-sided ``p_lower`` and ``p_higher`` (a lower or a
        higher rate in the second row), their ``mid_p`` forms, and the conditional ``odds_ratio``, second row over
        first, with its exact 95 % interval (None where a row or a column holds nothing, with the reason in
        ``odds_ratio_left_out``); ``sentence``, for groups in rows.

    Raises
    ------
    CountError
        When the table is not 2 x 2 or holds more than 10^9 plants.

    Notes
    -----
    The two-sided P by probability is the default, as for the larger tables of Freeman and Halton; ``doubled`` agrees
    with the limits of the odds ratio, ``blaker`` is never above ``doubled``. All fix both margins and are cautious in
    small tables; see ``unconditional`` and the ``mid_p`` forms.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.fisher([[20, 0], [14, 6]]).p, 4)
    0.0202
    """
    return Fisher(_core.tables.fisher(whole_table(table)))


def unconditional(
    table: Sequence[Sequence[int]], *, method: UnconditionalMethod = "boschloo", confidence: Confidence = 0.95
) -> UnconditionalTest:
    """Exact test of two rates that fixes the group sizes only, not the number rooted.

    Parameters
    ----------
    table : list of 2 rows of 2
        Groups in rows; those that rooted in the first column.
    method : str
        What makes a table more extreme: ``"boschloo"`` a smaller P of Fisher's test, ``"barnard"`` a larger score
        statistic with pooled variance (after Suissa and Shuster), ``"barnard-unpooled"`` a larger Wald statistic.
    confidence : float
        Confidence level of the interval of the difference.

    Returns
    -------
    UnconditionalTest
        Two-sided ``p`` (ordered by Fisher's two-sided P or the size of the statistic), one-sided ``p_lower`` and
        ``p_higher`` (a lower or a higher rate in the second row), ``doubled`` (twice the smaller), and the difference
        ``value`` with its limits.

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
    >>> round(rl.tables.unconditional([[8, 2], [1, 5]], method="barnard").p, 4)
    0.0167
    """
    return UnconditionalTest(_core.tables.unconditional(whole_table(table), method, confidence))


def paired(table: Sequence[Sequence[int]], *, method: PairedMethod = "tango", confidence: Confidence = 0.95) -> Paired:
    """Two rates within pairs: McNemar's tests and the difference with its interval.

    Parameters
    ----------
    table : list of 2 rows of 2
        Pairs: ``[[both rooted, first only], [second only, neither]]``.
    method : str
        Interval of the difference: ``"tango"`` (score) or ``"newcombe"`` (from Wilson limits and the correlation).
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    Paired
        ``p`` (mid-P), ``tests`` (exact, mid-p, asymptotic, asymptotic-corrected), the difference ``value``
        (second minus first) with its limits, the ``odds_ratio`` within pairs (second over first) with exact limits.

    Raises
    ------
    CountError
        When the table is not 2 x 2 or holds no pair.

    Notes
    -----
    The mid-P form of McNemar's test leads and Tango's score interval is the default: both hold their level on average
    where the exact test is far below it, and with few pairs that differ.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.tables.paired([[4, 9], [3, 16]]).p, 4)
    0.0923
    """
    return Paired(_core.tables.paired(whole_table(table), method, confidence))


def freeman_halton(
    table: Sequence[Sequence[int]],
    *,
    work: int = WORK,
    draws: int = DRAWS,
    seed: int = 1,
    progress: Progress | None = None,
) -> FreemanHalton:
    """The exact test of Freeman and Halton for a table of any shape.

    P is the sum of the probabilities, given all margins, of the tables that are not more probable than the observed
    one. Every such table is accounted for where ``work`` allows it; otherwise tables are drawn at random, and
    ``method`` says so.

    Parameters
    ----------
    table : list of rows
        Counts; at least 2 x 2.
    work : int
        Steps of exact work allowed, about a hundred million a second; 0 always draws.
    draws : int
        Tables to draw, 99 to 10^9.
    seed : int
        Seed of the draws.
    progress : callable, optional
        Called about ten times a second with the parts of the work done and the parts there are (classes of tables, then
        draws), to move a progress bar.

    Returns
    -------
    FreemanHalton
        ``p``; ``method``, ``"exact"`` or ``"drawn"``; for drawn tables ``se``, ``draws`` and ``seed``;
        ``sentence``, which names the cell farthest from what is expected.

    Raises
    ------
    CountError
        When the table is too small, ragged, or has a row or column without any plant.

    Notes
    -----
    Not for cuttings in trays: trays differ, so load the trial and use ``trial.association``. Exact work holds at most
    170 megabytes, and 70 more for each of up to eight processors; a table that needs more is drawn, and says so.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]])
    >>> found.method, round(found.p, 4)
    ('exact', 0.4346)
    """
    return FreemanHalton(_core.tables.freeman_halton(whole_table(table), exact_options(work, draws, seed), progress))
