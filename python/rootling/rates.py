"""Take rates: the share of cuttings that rooted, with an interval."""

from __future__ import annotations

from typing import Any

from rootling import _core
from rootling._results import Estimate, Result
from rootling._types import IntervalMethod, Level

__all__ = ["TakeRates", "interval"]


class TakeRates(Result):
    """Take rates per treatment, with intervals."""

    kind = "take_rates"


def interval(rooted: Any, stuck: Any, *, method: IntervalMethod = "wilson", level: Level = 0.95) -> Estimate:
    """The take rate of plain counts, with its interval; cuttings count as independent.

    Parameters
    ----------
    rooted, stuck : int or array of int
        Cuttings rooted and set. Arrays give arrays; a single number is used with every entry of the other.
    method : str
        ``"wald"``, ``"wilson"``, ``"wilson-corrected"``, ``"clopper-pearson"``, ``"mid-p"``, ``"jeffreys"``,
        ``"agresti-coull"``, ``"likelihood"`` or ``"blaker"``.
    level : float
        Confidence level, a proportion.

    Returns
    -------
    Estimate
        ``value``, ``conf_low``, ``conf_high`` between 0 and 1.

    Raises
    ------
    CountError
        When a count cannot be.
    ChoiceError
        When the method is not known.

    Notes
    -----
    Not for cuttings in trays: trays differ, so load the trial and use ``trial.take_rates``.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.rates.interval(81, 263, method="wilson")
    >>> round(found.conf_low, 4), round(found.conf_high, 4)
    (0.2553, 0.3662)
    """
    if isinstance(rooted, int) and isinstance(stuck, int):
        return Estimate.from_record(_core.rates.interval(rooted, stuck, method, level))
    import numpy as np

    from rootling.exceptions import CountError

    first, second = _counts(rooted), _counts(stuck)
    try:
        first, second = np.broadcast_arrays(first, second)
    except ValueError:
        raise CountError(f"counts of shape {first.shape} and {second.shape} do not belong together") from None
    value, low, high = _core.rates.interval_many(first.ravel(), second.ravel(), method, level)
    shape = first.shape
    if shape == ():
        return Estimate(float(value[0]), float(low[0]), float(high[0]), level, method)
    return Estimate(value.reshape(shape), low.reshape(shape), high.reshape(shape), level, method)


def _counts(given: Any) -> Any:
    """Counts as a whole-number array; anything else is refused."""
    import numpy as np

    from rootling.exceptions import CountError

    try:
        plain = np.asarray(given)
        whole = plain.astype(np.int64)
        same = plain.dtype.kind in "iuf" and bool(np.all(whole == plain))
    except (TypeError, ValueError, OverflowError):
        same = False
    if not same:
        raise CountError("counts must be whole numbers of cuttings, for example 81 or [81, 56]")
    return np.ascontiguousarray(whole)
