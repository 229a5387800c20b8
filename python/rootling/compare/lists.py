"""Lists compared: tray rates of two arms, dealt anew, and P values of one family."""

from __future__ import annotations

from collections.abc import Sequence
from numbers import Complex, Real
from typing import Any

from rootling import _core
from rootling._given import list_of
from rootling._given.choices import Adjustment, Confidence, Progress
from rootling.compare.results import RandomisedDifference
from rootling.exceptions import CountError


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


def _numbers(given: Any, what: str) -> list[float]:
    """A plain list of numbers; anything else is refused."""
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
