"""Two groups of cuttings: difference, ratio, odds ratio and tests from plain counts; cuttings count as independent."""

from __future__ import annotations

from rootling import _core
from rootling._results import Estimate, Figures, Result
from rootling._types import Claim, DifferenceMethod, Level, MarginMethod, OddsRatioMethod, RatioMethod

__all__ = [
    "Comparison",
    "Equivalence",
    "difference",
    "equivalence",
    "likelihood_ratio_test",
    "odds_ratio",
    "ratio",
    "score_test",
]


class Comparison(Result):
    """Two levels of a treatment compared."""

    kind = "comparison"


class Equivalence(Result):
    """Two rates tested against a margin."""

    kind = "equivalence"


def difference(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    method: DifferenceMethod = "miettinen-nurminen",
    level: Level = 0.95,
) -> Estimate:
    """Difference of two take rates, first minus second, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"miettinen-nurminen"`` (score, variance factor N / (N - 1)), ``"mee"`` (without the factor), ``"newcombe"``,
        ``"newcombe-corrected"``, ``"agresti-caffo"``, ``"wald"``, or ``"exact"`` (two one-sided unconditional tests
        on the score statistic, inverted after Chan and Zhang).
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        A difference of proportions between -1 and 1; ``sentence`` says it in trees per 100.

    Raises
    ------
    CountError
        When a count or level cannot be, or above 20,000 cuttings for the exact method.

    Notes
    -----
    Miettinen-Nurminen is the default: it holds its level in small groups and at 0 and 100 %. Not for cuttings in trays.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.difference(56, 70, 48, 80, method="newcombe").conf_low, 4)
    0.0524
    """
    return Estimate.from_record(_core.compare.difference((rooted_1, stuck_1, rooted_2, stuck_2), method, level))


def ratio(
    rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int, *, method: RatioMethod = "koopman", level: Level = 0.95
) -> Estimate:
    """Ratio of two take rates, first over second, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"koopman"``, ``"log"`` or ``"miettinen-nurminen"``.
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        ``value`` is infinite when only the second rate is 0, and ``None`` when both are: the limits are then 0 and
        infinity.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.ratio(56, 70, 48, 80).value, 3)
    1.333
    """
    return Estimate.from_record(_core.compare.ratio((rooted_1, stuck_1, rooted_2, stuck_2), method, level))


def odds_ratio(
    rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int, *, method: OddsRatioMethod = "score", level: Level = 0.95
) -> Estimate:
    """Odds ratio of two groups, first over second, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"conditional-exact"``, ``"mid-p"``, ``"woolf"``, ``"score"`` or ``"miettinen-nurminen"``.
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        ``value`` is 0 or infinite when the counts put it at an end; ``sentence`` says which bound is left.

    Raises
    ------
    CountError
        When none or all rooted in both groups: there is no odds ratio then.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.odds_ratio(156, 240, 84, 240, method="woolf").value, 3)
    3.449
    """
    return Estimate.from_record(_core.compare.odds_ratio((rooted_1, stuck_1, rooted_2, stuck_2), method, level))


def score_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> Figures:
    """Score test of equal take rates; ``statistic``, ``dof``, ``p_value``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.score_test(156, 240, 84, 240).statistic, 1)
    43.2
    """
    return Figures(_core.compare.score_test((rooted_1, stuck_1, rooted_2, stuck_2)))


def likelihood_ratio_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> Figures:
    """Likelihood-ratio test of equal take rates; ``statistic``, ``dof``, ``p_value``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.likelihood_ratio_test(156, 240, 84, 240).statistic, 4)
    43.8725
    """
    return Figures(_core.compare.likelihood_ratio_test((rooted_1, stuck_1, rooted_2, stuck_2)))


def equivalence(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    margin: float,
    claim: Claim = "equivalent",
    method: MarginMethod = "score",
    level: Level = 0.95,
) -> Equivalence:
    """Whether two take rates differ by less than a margin, by two one-sided tests.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    margin : float
        The largest difference that does not matter, a proportion: ``0.1`` is 10 trees per 100.
    claim : str
        What is to be shown of the first rate: ``"equivalent"``, ``"not-worse"`` or ``"not-better"`` than the second.
    method : str
        ``"score"`` tests with the variance under the margin, or ``"exact"`` unconditional tests.
    level : float
        Confidence in each one-sided test. The interval has level ``2 * level - 1``: inside the margin, both score tests
        reject.

    Returns
    -------
    Equivalence
        ``shown``, ``p_value``, ``p_not_worse``, ``p_not_better``, the difference ``value`` with its limits,
        ``sentence``.

    Raises
    ------
    CountError
        When a count, the margin or the level cannot be.

    Notes
    -----
    Not for cuttings in trays: load the trial and use ``trial.compare(..., margin=...)``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.compare.equivalence(312, 400, 308, 400, margin=0.1).shown
    True
    """
    counts = (rooted_1, stuck_1, rooted_2, stuck_2)
    return Equivalence(_core.compare.equivalence(counts, margin, claim, method, level))
