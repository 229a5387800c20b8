"""Two groups of cuttings: difference, ratio, odds ratio and tests from plain counts; cuttings count as independent."""

from __future__ import annotations

from rootling import _core
from rootling._results import Estimate, Figures, Result
from rootling._types import DifferenceMethod, Level, OddsRatioMethod, RatioMethod

__all__ = ["Comparison", "difference", "likelihood_ratio_test", "odds_ratio", "ratio", "score_test"]


class Comparison(Result):
    """Two levels of a treatment compared."""

    kind = "comparison"


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
        ``"miettinen-nurminen"``, ``"mee"``, ``"newcombe"``, ``"newcombe-corrected"``, ``"agresti-caffo"``, ``"wald"``.
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        A difference of proportions between -1 and 1.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.difference(56, 70, 48, 80, method="newcombe").conf_low, 4)
    0.0524
    """
    return Estimate.from_record(_core.compare.difference(rooted_1, stuck_1, rooted_2, stuck_2, method, level))


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

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.ratio(56, 70, 48, 80).value, 3)
    1.333
    """
    return Estimate.from_record(_core.compare.ratio(rooted_1, stuck_1, rooted_2, stuck_2, method, level))


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

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.odds_ratio(156, 240, 84, 240, method="woolf").value, 3)
    3.449
    """
    return Estimate.from_record(_core.compare.odds_ratio(rooted_1, stuck_1, rooted_2, stuck_2, method, level))


def score_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> Figures:
    """Score test of equal take rates; ``statistic``, ``dof``, ``p_value``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.score_test(156, 240, 84, 240).statistic, 1)
    43.2
    """
    return Figures(_core.compare.score_test(rooted_1, stuck_1, rooted_2, stuck_2))


def likelihood_ratio_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> Figures:
    """Likelihood-ratio test of equal take rates; ``statistic``, ``dof``, ``p_value``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.likelihood_ratio_test(156, 240, 84, 240).statistic, 4)
    43.8725
    """
    return Figures(_core.compare.likelihood_ratio_test(rooted_1, stuck_1, rooted_2, stuck_2))
