"""Tables of counts: chi-square and exact tests of association; cuttings count as independent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._given import layers_of, list_of, rows_of
from rootling._given.choices import Confidence, PairedMethod, Progress, UnconditionalMethod
from rootling._table_results import (
    Association,
    ChiSquare,
    Fisher,
    FreemanHalton,
    LinearByLinear,
    Paired,
    PlainTrend,
    Stratified,
    ThreeWay,
    Trend,
    UnconditionalTest,
)
from rootling.exceptions import CountError

__all__ = [
    "Association",
    "ChiSquare",
    "Fisher",
    "FreemanHalton",
    "LinearByLinear",
    "Paired",
    "PlainTrend",
    "Stratified",
    "ThreeWay",
    "Trend",
    "UnconditionalTest",
    "chi_square",
    "fisher",
    "freeman_halton",
    "linear_by_linear",
    "paired",
    "stratified",
    "three_way",
    "trend",
    "unconditional",
]

LARGEST = 2**53
WORK = 3_000_000_000
DRAWS = 99_999


def _list(numbers: Any, what: str) -> list[float]:
    try:
        return [float(number) for number in list_of(numbers)]
    except CountError:
        raise
    except (TypeError, ValueError):
        raise CountError(f"{what} are numbers, one for each group, for example [0, 2500, 5000]") from None


def _exact(work: int, draws: int, seed: int) -> dict[str, Any]:
    return {"work": work, "draws": draws, "seed": seed}


def _plain(table: Any) -> list[list[int]]:
    rows = rows_of(table)
    try:
        whole = [[int(entry) for entry in row] for row in rows]
        same = all(a == b for row, given in zip(whole, rows, strict=True) for a, b in zip(row, given, strict=True))
    except (TypeError, ValueError, OverflowError):
        same = False
    if not same or any(entry < 0 for row in whole for entry in row):
        raise CountError("a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]")
    for entry in (entry for row in whole for entry in row):
        if entry > LARGEST:
            raise CountError(f"count {entry} is above {LARGEST}, the largest that is held exactly; check the entry")
    return whole


def _counts(rooted: Any, stuck: Any) -> tuple[list[int], list[int]]:
    try:
        first, second = _plain([list_of(rooted), list_of(stuck)])
    except (TypeError, CountError) as error:
        if isinstance(error, CountError) and ("above" in str(error) or "frame" in str(error)):
            raise
        raise CountError("rooted and stuck are lists of whole numbers of 0 or more, one entry for each group") from None
    return first, second


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
    return ChiSquare(_core.tables.chi_square(_plain(table)))


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
    return Fisher(_core.tables.fisher(_plain(table)))


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
    return UnconditionalTest(_core.tables.unconditional(_plain(table), method, confidence))


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
    return Paired(_core.tables.paired(_plain(table), method, confidence))


def three_way(table: Sequence[Sequence[Sequence[int]]]) -> ThreeWay:
    """Bartlett's test of no three-factor interaction in a 2 x 2 x 2 table.

    It asks whether the odds ratio of two factors is the same at both levels of the third.

    Parameters
    ----------
    table : list of 2 tables of 2 rows of 2
        Counts, for example planting by length by (alive, dead). The order of the three factors does not matter.

    Returns
    -------
    ThreeWay
        ``pearson`` and ``likelihood_ratio``, each with ``statistic``, ``df``, ``p``, and the counts ``expected``
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
    layers = layers_of(table)
    try:
        whole = [_plain(layer) for layer in layers]
    except TypeError:
        whole = []
    if [[len(row) for row in layer] for layer in whole] != [[2, 2], [2, 2]]:
        raise CountError("a three-way table holds 2 x 2 x 2 counts, for example [[[5, 3], [4, 4]], [[6, 2], [3, 5]]]")
    return ThreeWay(_core.tables.three_way(whole))


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
    return FreemanHalton(_core.tables.freeman_halton(_plain(table), _exact(work, draws, seed), progress))


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
    first, second = _counts(rooted, stuck)
    chosen = list(range(len(first))) if scores is None else scores
    return PlainTrend(_core.tables.trend(first, second, _list(chosen, "scores"), _exact(work, draws, seed)))


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
    rows = _plain(table)
    first = list(range(1, len(rows) + 1)) if row_scores is None else row_scores
    second = list(range(1, len(rows[0]) + 1 if rows else 1)) if column_scores is None else column_scores
    options = _exact(work, draws, seed)
    return LinearByLinear(
        _core.tables.linear_by_linear(rows, _list(first, "row scores"), _list(second, "column scores"), options)
    )


def stratified(
    strata: Sequence[Sequence[Sequence[int]]],
    *,
    confidence: float = 0.95,
    row_scores: Sequence[float] | None = None,
    column_scores: Sequence[float] | None = None,
) -> Stratified:
    """Association within strata, put together: Mantel-Haenszel, generalised tests, homogeneity, exact odds ratio.

    Parameters
    ----------
    strata : list of tables
        One table for each stratum, all of the same shape. In 2 x 2 tables rows are groups and the first column counts
        the rooted.
    confidence : float
        Confidence level, a proportion.
    row_scores, column_scores : list of float, optional
        Scores of ordered rows and columns; 1, 2, 3, ... when left out.

    Returns
    -------
    Stratified
        ``generalised`` tests for any shape; for 2 x 2 tables ``common`` (Mantel-Haenszel ``odds_ratio``, ``ratio``,
        ``difference``, each of the second row against the first, ``test``, ``corrected``), ``homogeneity``
        (``tarone``, ``breslow_day``, ``woolf``) and ``exact``
        (conditional odds ratio with exact and mid-P limits and tests; where there are too many plants for it
        ``exact_left_out`` says so). ``uninformative`` names strata, counted from 1, that say nothing.

    Raises
    ------
    CountError
        When tables differ in shape, or no stratum holds two groups and two outcomes.

    Notes
    -----
    Cuttings count as independent within their stratum. The test without continuity correction is the one to report.
    Limits are by Robins, Breslow and Greenland for the odds ratio, Greenland and Robins for the ratio, Sato for the
    difference; of the homogeneity tests report Tarone's, which corrects that of Breslow and Day.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.tables.stratified([[[156, 84], [84, 156]], [[107, 133], [31, 209]]])
    >>> round(found.common.odds_ratio.value, 3), round(found.homogeneity.tarone.p, 3)
    (0.239, 0.132)
    """
    options = {
        "confidence": confidence,
        "row_scores": None if row_scores is None else _list(row_scores, "row scores"),
        "column_scores": None if column_scores is None else _list(column_scores, "column scores"),
    }
    given = layers_of(strata)
    try:
        tables = [_plain(table) for table in given]
    except TypeError:
        raise CountError(
            "strata is a list of tables, one for each stratum, all with the same rows and columns"
        ) from None
    return Stratified(_core.tables.stratified(tables, options))
