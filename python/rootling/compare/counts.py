"""Two groups compared from plain counts; cuttings count as independent."""

from __future__ import annotations

from rootling import _core
from rootling._given.choices import Claim, Confidence, DifferenceMethod, MarginMethod, OddsRatioMethod, RatioMethod
from rootling._results import Estimate
from rootling.compare.results import EqualityTest, Equivalence


def difference(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    method: DifferenceMethod = "miettinen-nurminen",
    confidence: Confidence = 0.95,
) -> Estimate:
    """Difference of two take rates, second minus first, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"miettinen-nurminen"`` (score, variance factor N / (N - 1)), ``"mee"`` (without the factor), ``"newcombe"``,
        ``"newcombe-corrected"``, ``"agresti-caffo"``, ``"wald"``, or ``"exact"`` (two one-sided unconditional tests
        on the score statistic, inverted after Chan and Zhang). The formulas of ``"agresti-caffo"`` and ``"wald"`` can
        pass -1 and 1, which no difference can: what lies beyond is cut off.
    confidence : float
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
    >>> round(rl.compare.difference(48, 80, 56, 70, method="newcombe").low, 4)
    0.0524
    """
    return Estimate.from_record(_core.compare.difference((rooted_1, stuck_1, rooted_2, stuck_2), method, confidence))


def ratio(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    method: RatioMethod = "koopman",
    confidence: Confidence = 0.95,
) -> Estimate:
    """Ratio of two take rates, second over first, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"koopman"``, ``"log"`` or ``"miettinen-nurminen"``.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        ``value`` is infinite when only the first rate is 0, and ``None`` when both are: the limits are then 0 and
        infinity. ``method`` names the interval used.

    Raises
    ------
    CountError
        When a count or level cannot be; for ``"log"`` when a group has no rooted cutting or all rooted in both.

    Notes
    -----
    Koopman's score interval is the default: it has limits where a group has no rooted cutting, where the log interval
    has none, and holds its level in small groups. Miettinen and Nurminen's is the same with the variance factor
    N / (N - 1). Not for cuttings in trays.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.ratio(48, 80, 56, 70).value, 3)
    1.333
    """
    return Estimate.from_record(_core.compare.ratio((rooted_1, stuck_1, rooted_2, stuck_2), method, confidence))


def odds_ratio(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    method: OddsRatioMethod = "score",
    confidence: Confidence = 0.95,
) -> Estimate:
    """Odds ratio of two groups, second over first, with its interval.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    method : str
        ``"conditional-exact"``, ``"mid-p"``, ``"woolf"``, ``"score"`` or ``"miettinen-nurminen"``.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        ``value`` is 0 or infinite when the counts put it at an end; ``sentence`` says which bound is left. It is
        ``None`` when none or all rooted in both groups: the limits are then 0 and infinity. With
        ``"conditional-exact"`` and ``"mid-p"`` it is the conditional estimate, else that of the counts.

    Raises
    ------
    CountError
        For ``"woolf"`` when a count is 0; above 10^9 cuttings for ``"conditional-exact"`` and ``"mid-p"``.

    Notes
    -----
    The score interval (Cornfield) is the default: it has limits with zeros and holds its level on average.
    ``"conditional-exact"`` agrees with the one-sided tests of Fisher and covers at least its level, so it is wider;
    ``"mid-p"`` lies between. Not for cuttings in trays.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.odds_ratio(84, 240, 156, 240, method="woolf").value, 3)
    3.449
    """
    return Estimate.from_record(_core.compare.odds_ratio((rooted_1, stuck_1, rooted_2, stuck_2), method, confidence))


def score_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> EqualityTest:
    """Score test of equal take rates; ``statistic``, ``df``, ``p``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.score_test(156, 240, 84, 240).statistic, 1)
    43.2
    """
    return EqualityTest(_core.compare.score_test((rooted_1, stuck_1, rooted_2, stuck_2)))


def likelihood_ratio_test(rooted_1: int, stuck_1: int, rooted_2: int, stuck_2: int) -> EqualityTest:
    """Likelihood-ratio test of equal take rates; ``statistic``, ``df``, ``p``.

    Examples
    --------
    >>> import rootling as rl
    >>> round(rl.compare.likelihood_ratio_test(156, 240, 84, 240).statistic, 4)
    43.8725
    """
    return EqualityTest(_core.compare.likelihood_ratio_test((rooted_1, stuck_1, rooted_2, stuck_2)))


def equivalence(
    rooted_1: int,
    stuck_1: int,
    rooted_2: int,
    stuck_2: int,
    *,
    margin: float,
    claim: Claim = "equivalent",
    method: MarginMethod = "score",
    confidence: Confidence = 0.95,
) -> Equivalence:
    """Whether two take rates differ by less than a margin, by two one-sided tests.

    Parameters
    ----------
    rooted_1, stuck_1, rooted_2, stuck_2 : int
        Counts of the first and the second group.
    margin : float
        The largest difference that does not matter, a proportion: ``0.1`` is 10 trees per 100.
    claim : str
        What is to be shown of the second rate: ``"equivalent"``, ``"not-worse"`` or ``"not-better"`` than the first.
    method : str
        ``"score"`` tests with the variance under the margin, or ``"exact"`` unconditional tests.
    confidence : float
        Confidence in each one-sided test. The interval has level ``2 * confidence - 1``: inside the margin, both score
        tests reject.

    Returns
    -------
    Equivalence
        ``shown``, ``p``, ``p_not_worse``, ``p_not_better``, the difference ``value`` (second minus first)
        with its limits, ``sentence``.

    Raises
    ------
    CountError
        When a count, the margin or the level cannot be.

    Notes
    -----
    The score tests are the default: they hold their level on average in all but tiny groups, while the exact ones never
    exceed it and need more cuttings. Not for cuttings in trays: load the trial and use
    ``trial.compare(..., margin=...)``.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.compare.equivalence(308, 400, 312, 400, margin=0.1).shown
    True
    """
    counts = (rooted_1, stuck_1, rooted_2, stuck_2)
    return Equivalence(_core.compare.equivalence(counts, margin, claim, method, confidence))
