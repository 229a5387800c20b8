"""Best strengths pooled over seasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _core
from rootling._given.choices import Confidence, Outcome
from rootling.exceptions import ChoiceError
from rootling.seasons.given import CURVES, given_seasons
from rootling.seasons.results import BestOverSeasons
from rootling.trial import Trial, levels_within, strengths_of


def pool_curves(
    trials: Any,
    strength: str | None = None,
    *,
    seasons: Sequence[Any] | None = None,
    at: Mapping[str, Any] | None = None,
    outcome: Outcome = "take",
    confidence: Confidence = 0.95,
    draws: int = 10_000,
    seed: int = 1,
) -> BestOverSeasons:
    """Pools the best strength over seasons or sites, and says where a new season may have it and how far it shifts.

    Each season has a strength curve of its own, whatever strengths it tested; where its best strength is located, that
    and its limits enter, on the scale ln(1 + d / d0) of the curves. Seasons are taken to differ throughout.

    Parameters
    ----------
    trials : list or dict
        Two seasons or more: trials, which are asked, or what ``trial.strength_curve(...)`` answered (one curve each),
        also read from its record. A dictionary has the name of each season, ``{"2023": one, "2024": other}``.
    strength : str, optional
        The treatment that holds the strengths in trials; the declared one when left out.
    seasons : list, optional
        Names of the seasons of a list. Left out, a trial has the level of its season column where that is one, and any
        other its place in the list.
    at : dict, optional
        Levels of other treatments that trials stay within, for example ``{"rootstock": "K12"}``.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What trials count, as in :meth:`Trial.strength_curve`.
    confidence : float
        Confidence of all limits.
    draws : int
        Draws behind the limits of a new season, 1,000 to 200,000.
    seed : int
        Their seed.

    Returns
    -------
    BestOverSeasons
        ``value`` with ``low`` and ``high``, the best strength on average, in the unit of the strengths; ``new_low`` and
        ``new_high``, limits of that of a new season; ``spread`` on the scale, with limits; ``usual``, between which
        about two of three seasons have theirs; ``changes``, the test of whether it shifts; ``seasons``, each with its
        own best strength, its weight and the average ``without`` it; ``left_out``, seasons whose best strength is not
        located, with the reason. ``these_alone`` with two seasons, ``provisional`` with three and four, and where more
        than a quarter of the seasons are left out.

    Raises
    ------
    ChoiceError
        Where seasons have other units or substances, two have one name or the same counts, or fewer than two located
        their best strength.

    Notes
    -----
    Not where most seasons found their best at an end of what they tested: seasons that locate theirs are then a
    selection, and the average leans to the middle of what was tested. Test more widely first.

    References
    ----------
    Paule & Mandel 1982; Hartung & Knapp 2001, Stat. Med. 20:1771-1782; Viechtbauer 2007, Stat. Med. 26:37-52; Iyer,
    Wang & Mathew 2004, JASA 99:1060-1071.

    Examples
    --------
    >>> import rootling as rl
    >>> iba = rl.Strength("IBA", unit="mg/L", method="quick dip")
    >>> trials = {
    ...     2020 + seed: rl.load_trial(rl.demo.strengths(seed=seed), rooted="rooted", stuck="stuck", tray="tray",
    ...                                treatments=["strength", "rootstock"], strength=iba, block="bench")
    ...     for seed in (1, 2, 3)
    ... }
    >>> found = rl.seasons.pool_curves(trials, at={"rootstock": "K12"})
    >>> found.n_seasons, found.low < found.value < found.high
    (3, True)
    """
    given = given_seasons(trials, seasons, CURVES)
    asked = [one for _, one in given if isinstance(one, Trial)]
    if not asked and (at or strength is not None):
        raise ChoiceError(
            "strength= and at= are asked of trials, and curves were asked before; write them into "
            "trial.strength_curve(...)"
        )
    options = {
        "column": strengths_of(asked[0], strength) if asked else "strength",
        "at": levels_within(asked[0], at) if asked else {},
        "outcome": outcome,
        "confidence": confidence,
        "draws": draws,
        "seed": seed,
    }
    entries = [(name, one._core if isinstance(one, Trial) else one._record) for name, one in given]
    return BestOverSeasons(_core.seasons.pool_curves(entries, options))
