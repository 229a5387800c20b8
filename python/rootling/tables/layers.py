"""Tables in layers: strata put together, and whether one effect depends on the other."""

from __future__ import annotations

from collections.abc import Sequence

from rootling import _core
from rootling._given import layers_of, whole_table
from rootling.exceptions import CountError
from rootling.tables.entries import scores_of
from rootling.tables.results import Stratified, ThreeWay


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
        "row_scores": None if row_scores is None else scores_of(row_scores, "row scores"),
        "column_scores": None if column_scores is None else scores_of(column_scores, "column scores"),
    }
    given = layers_of(strata)
    try:
        tables = [whole_table(table) for table in given]
    except TypeError:
        raise CountError(
            "strata is a list of tables, one for each stratum, all with the same rows and columns"
        ) from None
    return Stratified(_core.tables.stratified(tables, options))


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
        whole = [whole_table(layer) for layer in layers]
    except TypeError:
        whole = []
    if [[len(row) for row in layer] for layer in whole] != [[2, 2], [2, 2]]:
        raise CountError("a three-way table holds 2 x 2 x 2 counts, for example [[[5, 3], [4, 4]], [[6, 2], [3, 5]]]")
    return ThreeWay(_core.tables.three_way(whole))
