"""Levels of a treatment weighed by what they cost and what their trees bring."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rootling import _core
from rootling._given.choices import Confidence
from rootling.decide.given import days_of, next_trial_of, pooled_of, share_limits
from rootling.decide.money import Money, MoneyName, Purse
from rootling.decide.results import LevelChoice
from rootling.exceptions import ChoiceError
from rootling.trial import Trial, levels_within


def choose(
    trial: Trial,
    treatment: str,
    *,
    price: Money,
    cuttings_a_season: float,
    per_cutting: Money | None = None,
    per_tray: Money | None = None,
    per_day: Money | None = None,
    of_level: Mapping[Any, Money] | None = None,
    days: float | Mapping[Any, float] | None = None,
    cuttings_per_tray: float | None = None,
    saleable: float = 1.0,
    saleable_limits: tuple[float, float] | None = None,
    seasons: int = 1,
    season_sd: float | None = None,
    pooled: Any = None,
    next_trial: Mapping[str, Any] | None = None,
    at: Mapping[str, Any] | None = None,
    money: MoneyName | None = None,
    confidence: Confidence = 0.95,
    draws: int = 10_000,
    seed: int = 1,
) -> LevelChoice:
    """Weighs the levels of a treatment in money: the gain of each, which to use, and what one more trial is worth.

    The gain of a season is ``cuttings_a_season x (price x saleable x take - cost of a cutting)``. Takes are those of
    :meth:`Trial.take_rates`, drawn from the law whose quantiles are its limits at every confidence.

    Parameters
    ----------
    trial : Trial
        The trial that tells of takes.
    treatment : str
        The treatment whose levels are to be chosen from.
    price : float or str
        What a saleable tree brings. Amounts are numbers, or text with the money, ``"3 EUR"``; it is the same for all
        prices and costs, and nothing is converted.
    cuttings_a_season : float
        Cuttings stuck in a season.
    per_cutting, per_tray, per_day : float or str, optional
        Cost of a cutting, of a tray, of a tray's day of darkness. At least one cost has to be given.
    of_level : dict, optional
        Further cost of a cutting at some levels, ``{5000: 0.02}``.
    days : float or dict, optional
        Days of darkness that ``per_day`` counts, one number or one for each level; left out where the treatment is
        ``dark_days``, or ``at=`` holds it. Days without ``per_day`` cost nothing, so they are refused.
    cuttings_per_tray : float, optional
        Cuttings of a tray; those of the trial's trays when left out.
    saleable : float
        Share of rooted cuttings that come to sale, 0 to 1.
    saleable_limits : pair of float, optional
        Its limits, at ``confidence``.
    seasons : int
        Seasons that the choice is to hold.
    season_sd : float, optional
        How far the log odds of a level move from season to season beside what all levels share, as a standard
        deviation: 0.3 is about seven trees per 100 at a take of one half.
    pooled : Pooled, optional
        What :func:`rl.seasons.pool` answered, in place of ``season_sd``.
    next_trial : dict, optional
        The trial that may come next: trays of each level, cuttings of each tray, and what it costs,
        ``{"trays": 8, "cuttings": 20, "cost": 500}``.
    at : dict, optional
        Levels of other columns to stay within, for example ``{"rootstock": "K12"}``.
    money : str, optional
        The name of the money, as it is to be said, for example ``"EUR"``; not needed where an amount says it.
    confidence : float
        Confidence of all limits.
    draws : int
        Draws of what is not known, 1,000 to 200,000.
    seed : int
        Their seed.

    Returns
    -------
    LevelChoice
        ``best`` and ``runner_up``; ``value`` with ``low`` and ``high``, what the best brings more in a season;
        ``chance_best``; ``levels``, each with its gain, limits, chance of being best, saleable trees and expected
        ``loss``; ``perfect_knowledge``, what no trial can be worth more than; ``next_trial`` with its ``value``,
        ``value_error``, ``net`` and ``pays``; ``break_even`` and ``sensitivity``, where the choice turns.

    Raises
    ------
    ChoiceError
        For prices, costs, seasons and trials that cannot be, and for levels that are not known.

    Notes
    -----
    Without ``season_sd`` or ``pooled`` all of it holds for seasons like that of the trial, and a note says so. The
    next trial is taken to run in the first season while the present choice is used, so that waiting costs nothing,
    and to be laid out like this one. Levels are compared with each other, not with leaving the crop alone. Not for
    trials without trays: limits are too narrow, and the sentence says so. Chances take nothing for granted about how
    far levels differ: where these hardly do beside seasons, chances near 90 of 100 are about 6 too high.

    References
    ----------
    Raiffa & Schlaifer 1961, Applied Statistical Decision Theory; Xie & Singh 2013, Int. Stat. Rev. 81:3-39; Claxton
    1999, J. Health Econ. 18:341-364.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> found = rl.decide.choose(trial, "strength", price="3 EUR", saleable=0.8, per_cutting=0.4, of_level={5000: 0.02},
    ...                          cuttings_a_season=20_000, seasons=3, season_sd=0.3,
    ...                          next_trial={"trays": 8, "cuttings": 20, "cost": 500})
    >>> found.best, found.low < found.value < found.high
    ('5000', True)
    >>> found.next_trial.value <= found.perfect_knowledge
    True
    """
    if not isinstance(trial, Trial):
        raise ChoiceError(
            f"a {type(trial).__name__} was given where a trial is asked; write "
            'rl.decide.choose(trial, "strength", price=3.0, per_cutting=0.4, cuttings_a_season=20000)'
        )
    purse = Purse(money)
    options = {
        "price": purse.amount("price", price),
        "cuttings_a_season": cuttings_a_season,
        "per_cutting": purse.amount("per_cutting", per_cutting),
        "per_tray": purse.amount("per_tray", per_tray),
        "per_day": purse.amount("per_day", per_day),
        "of_level": purse.by_level("of_level", of_level),
        "days": days_of(days),
        "cuttings_per_tray": cuttings_per_tray,
        "saleable": saleable,
        "saleable_limits": share_limits(saleable_limits),
        "seasons": seasons,
        "season_sd": season_sd,
        "pooled": pooled_of(pooled),
        "next_trial": next_trial_of(next_trial, purse),
        "at": levels_within(trial, at),
        "money": purse.name,
        "confidence": confidence,
        "draws": draws,
        "seed": seed,
    }
    return LevelChoice(_core.decide.choose(trial._core, treatment, options))
