"""Two groups compared, from plain counts and from tray rates; P values adjusted for their number.

In what works on counts, cuttings count as independent.
"""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Complex, Real
from typing import Any

from rootling import _core, _figures
from rootling._given import list_of
from rootling._given.choices import (
    Adjustment,
    Claim,
    Confidence,
    DifferenceMethod,
    MarginMethod,
    OddsRatioMethod,
    Progress,
    RatioMethod,
)
from rootling._results import Estimate, Faces, Result, scales

__all__ = [
    "AllComparisons",
    "Comparison",
    "EqualityTest",
    "Equivalence",
    "RandomisedDifference",
    "adjusted_p",
    "difference",
    "equivalence",
    "likelihood_ratio_test",
    "odds_ratio",
    "randomisation",
    "ratio",
    "score_test",
]


class Comparison(
    Result,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Do {factor} {first} and {second} differ, and by how much?",
        scale=scales.of_lines,
    ),
):
    """Two levels of a treatment compared."""

    kind = "comparison"


class AllComparisons(
    Result,
    faces=Faces(
        figure=_figures.differences.all_comparisons,
        question="Which levels of {factor} differ?",
        scale=scales.of_differences,
    ),
):
    """All levels of a treatment compared, with P values and intervals that hold together."""

    kind = "all_comparisons"


class RandomisedDifference(
    Result,
    faces=Faces(
        figure=_figures.differences.randomisation,
        question="Do the two differ when trays are dealt out again?",
        scale=scales.of_differences,
    ),
):
    """Two lists of tray rates compared by dealing the trays anew."""

    kind = "randomisation"


class EqualityTest(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Do the two rates differ?",
        scale=scales.plain,
    ),
):
    """A test of equal take rates from plain counts."""

    kind = "equality_test"


class Equivalence(
    Result,
    faces=Faces(
        figure=_figures.differences.comparison,
        question="Are the two alike within the margin?",
        scale=scales.of_lines,
    ),
):
    """Two rates tested against a margin."""

    kind = "equivalence"


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


def _numbers(given: Any, what: str) -> list[float]:
    """A plain list of numbers; anything else is refused."""
    from rootling.exceptions import CountError

    try:
        values = () if isinstance(given, (str, bytes)) else list_of(given)
        if isinstance(given, (str, bytes)) or any(map(_is_complex, values)):
            raise TypeError
        return [float(value) for value in values]
    except CountError:
        raise
    except (TypeError, ValueError, OverflowError):
        raise CountError(f"{what} must be a list of numbers, for example [0.2, 0.35]") from None


def _is_complex(value: Any) -> bool:
    return isinstance(value, Complex) and not isinstance(value, Real)


def randomisation(
    first_rates: Sequence[float],
    second_rates: Sequence[float],
    *,
    strata: tuple[Sequence[Any], Sequence[Any]] | None = None,
    confidence: Confidence = 0.95,
    draws: int = 99_999,
    seed: int = 1,
    progress: Progress | None = None,
) -> RandomisedDifference:
    """Randomisation test of two lists of tray rates, with an interval for their difference.

    The trays are dealt to the two arms anew, within strata: in all ways when there are at most a million, else in
    ``draws`` random ways. The statistic is the difference of mean rates within strata, taken two-sided; the interval
    holds all shifts of the second arm that both one-sided tests keep (inversion).

    Parameters
    ----------
    first_rates, second_rates : list of float
        Take rate of each tray, between 0 and 1.
    strata : pair of lists, optional
        Block of each tray of the first and of the second arm.
    confidence : float
        Confidence level, a proportion.
    draws : int
        Assignments drawn when there are too many to go through.
    seed : int
        Seed of the draws.
    progress : callable, optional
        Called about ten times a second with the assignments drawn and those to draw so far (for the interval, then for
        the test), to move a progress bar.

    Returns
    -------
    RandomisedDifference
        ``value`` (second minus first), ``low``, ``high``, ``attained_level``, ``p``, its Monte Carlo
        ``se``, and the smallest P value there can be: ``smallest_p`` by the design, ``smallest_p_given_rates``
        with these rates and their ties.

    Raises
    ------
    CountError
        When a rate is outside 0 to 1, an arm is empty, or the strata do not match.

    Notes
    -----
    Not for few trays: three and three cannot reach 5 %, and the result says so. The interval takes the shift to be
    the same for every tray, which cannot be near 0 or 1.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.compare.randomisation([0.2, 0.3, 0.25, 0.15], [0.6, 0.7, 0.55, 0.75])
    >>> round(found.p, 4), round(found.smallest_p, 4)
    (0.0286, 0.0286)
    """
    from rootling.exceptions import CountError

    if strata is not None and (isinstance(strata, (str, bytes)) or len(strata) != 2):
        raise CountError("strata is a pair of lists: the blocks of the first arm's trays and of the second arm's")
    labels = None if strata is None else tuple([str(label) for label in part] for part in strata)
    options = {"strata": labels, "confidence": confidence, "draws": draws, "seed": seed}
    rates = _numbers(first_rates, "the first tray rates"), _numbers(second_rates, "the second tray rates")
    return RandomisedDifference(_core.compare.randomisation(*rates, options, progress))


def adjusted_p(p_values: Sequence[float], *, method: Adjustment = "holm") -> list[float]:
    """P values adjusted for their number, in the order given.

    Parameters
    ----------
    p_values : list of float
        P values of one family of tests.
    method : str
        ``"holm"`` (any dependence), ``"bonferroni"``, ``"hochberg"``, ``"hommel"``, ``"sidak"``, ``"sidak-step-down"``
        (independent or positively dependent tests), all of which hold the chance of any false claim;
        ``"benjamini-hochberg"`` and ``"benjamini-yekutieli"``, which hold the share of false claims; ``"none"``.

    Returns
    -------
    list of float
        Each at least the P value it came from and at most 1.

    Raises
    ------
    CountError
        When a value is not between 0 and 1.
    ChoiceError
        When the method is not known.

    Notes
    -----
    Name the family before looking: all pairs, all against the control, or a few comparisons that were planned.

    Examples
    --------
    >>> import rootling as rl
    >>> rl.compare.adjusted_p([0.01, 0.04, 0.03])
    [0.03, 0.06, 0.06]
    """
    return _core.compare.adjusted_p(_numbers(p_values, "P values"), method)
