"""Seasons pooled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import Confidence, Outcome
from rootling.exceptions import ChoiceError
from rootling.seasons.given import COMPARED, given_seasons
from rootling.seasons.results import Pooled
from rootling.trial import Trial, apart, levels_within


def pool(
    trials: Any,
    treatment: str | None = None,
    first: Any = None,
    second: Any = None,
    *,
    seasons: Sequence[Any] | None = None,
    at: Mapping[str, Any] | None = None,
    outcome: Outcome = "take",
    confidence: Confidence = 0.95,
    nearly: float = 0.10,
    draws: int = 10_000,
    seed: int = 1,
) -> Pooled:
    """Pools the difference between two levels over seasons or sites, and says what a new season may bring.

    Each season is judged by its own trays, as :meth:`Trial.compare` does it; its difference and error enter, whatever
    its P value. Seasons are taken to differ throughout: the interaction of treatment and season is never tested away.

    Parameters
    ----------
    trials : list or dict
        Two seasons or more: trials, which are asked, or what ``trial.compare(...)`` answered, also read from its
        record. A dictionary has the name of each season, ``{"2023": one, "2024": other}``.
    treatment : str, optional
        The treatment that trials are asked about; comparisons were asked before.
    first, second : optional
        Its two levels; the difference is second minus first.
    seasons : list, optional
        Names of the seasons of a list. Left out, a trial has the level of its season column where that is one, and any
        other its place in the list.
    at : dict, optional
        Levels of other treatments that trials stay within, for example ``{"rootstock": "K12"}``.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What trials count, as in :meth:`Trial.compare`.
    confidence : float
        Confidence of all limits.
    nearly : float
        The difference that matters, a proportion: 0.10 is ten trees per 100.
    draws : int
        Draws behind the limits of a new season, 1,000 to 200,000.
    seed : int
        Their seed.

    Returns
    -------
    Pooled
        ``value`` with ``low`` and ``high``, the average over seasons; ``new_low`` and ``new_high``, limits of the
        difference in a new season; ``spread``, the standard deviation between seasons, with ``spread_low`` and
        ``spread_high``; ``changes``, the test of treatment x season; ``seasons``, each with its own difference, the
        average ``without`` it and ``p_adjusted`` of its distance from the others; ``left_out``, seasons whose limits
        are withheld, with the reason. ``these_alone`` with two seasons, ``provisional`` with three and four.

    Raises
    ------
    ChoiceError
        Where seasons were not asked the same, two have one name or the same counts, or fewer than two have limits.

    Notes
    -----
    With two seasons the average is over these two, from their own errors, and nothing is said of a new one. Limits of
    a new season hold for one of the kind that these are. Not for trials without trays: their limits are too narrow, so
    they are left out and listed.

    References
    ----------
    Yates & Cochran 1938, J. Agric. Sci. 28:556-580; Paule & Mandel 1982; Hartung & Knapp 2001, Stat. Med.
    20:1771-1782; Viechtbauer 2007, Stat. Med. 26:37-52; Iyer, Wang & Mathew 2004, JASA 99:1060-1071.

    Examples
    --------
    >>> import rootling as rl
    >>> trials = [
    ...     rl.load_trial(rl.demo.two_strengths(seed=seed), rooted="rooted", stuck="stuck",
    ...                   treatments=["strength"], tray="tray", block="bench")
    ...     for seed in (1, 2, 3)
    ... ]
    >>> found = rl.seasons.pool(trials, "strength", 2500, 5000, seasons=[2022, 2023, 2024])
    >>> [one.season for one in found.seasons], found.provisional
    (['2022', '2023', '2024'], True)
    """
    given = given_seasons(trials, seasons, COMPARED)
    asked = [one for _, one in given if isinstance(one, Trial)]
    if asked and (treatment is None or first is None or second is None):
        raise ChoiceError(
            "trials do not say what is compared; name the treatment and two of its levels behind them, for example "
            'rl.seasons.pool(trials, "strength", 2500, 5000)'
        )
    if at and not asked:
        raise ChoiceError("at= is asked of trials, and comparisons were asked before; write it into trial.compare(...)")
    levels = None if first is None or second is None else (spelled(first), spelled(second))
    if levels is not None:
        apart(*levels, f"level of {treatment}")
    options = {
        "treatment": treatment,
        "levels": levels,
        "at": levels_within(asked[0], at) if asked else {},
        "outcome": outcome,
        "confidence": confidence,
        "nearly": nearly,
        "draws": draws,
        "seed": seed,
    }
    entries = [(name, one._core if isinstance(one, Trial) else one._record) for name, one in given]
    return Pooled(_core.seasons.pool(entries, options))
