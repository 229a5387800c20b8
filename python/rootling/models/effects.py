"""What a model is asked of its effects: tests, odds ratios, coefficients, adjusted rates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling._given.choices import (
    AverageOver,
    Confidence,
    EffectTestKind,
    RateOf,
)
from rootling.models.given import averaged, held
from rootling.models.results import AdjustedRates, Coefficients, OddsRatios, WhatMatters

if TYPE_CHECKING:
    from rootling.models.model import Model


def what_matters(self: Model, *, test: EffectTestKind = "auto") -> WhatMatters:
    """Whether the take rate depends on each effect: one test per effect.

    Parameters
    ----------
    test : {"auto", "likelihood-ratio", "score", "small-sample-score", "wald"}
        The statistic. Left to the model it is the one whose false alarms were simulated: the small-sample score of
        effective cuttings where trays are counted, the likelihood ratio otherwise. Wald's misleads near 0 and 100 %
        (Hauck and Donner 1977). Where trays give an error, each is held against F; an effect constant within a
        recorded unit above the tray (bay, block, season, stock plant) against that unit.

    Raises
    ------
    rootling.exceptions.ModelError
        When the model has no such statistic: ``trays="random"`` and ``"beta-binomial"`` have likelihood ratios
        only, ``trays="robust"`` Wald's only.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> model = trial.model("strength")
    >>> model.what_matters(test="wald").table()["test"].to_list()
    ['Wald as F']
    """
    options = {"test": None if test == "auto" else test}
    return WhatMatters(self._core.what_matters(options), self._shown_with())


def odds_ratios(self: Model, *, confidence: Confidence = 0.95) -> OddsRatios:
    """Odds ratios against the first level of each effect, with intervals by the score or the likelihood profile.

    The other effects are held alike (conditional). ``contrasts(scale="odds")`` gives ratios of the odds of rates
    averaged over them, which lie nearer to 1.

    With an interaction the odds ratios of an effect inside it hold at the reference level of the other one alone,
    and their names say so: "strength 4000 against 0, at rootstock K12". ``contrasts(scale="odds", within=...)``
    gives those of every level.

    Parameters
    ----------
    confidence : float
        Confidence level, a proportion.
    """
    return OddsRatios(self._core.odds_ratios(confidence), self._shown_with())


def coefficients(self: Model, *, confidence: Confidence = 0.95) -> Coefficients:
    """Every coefficient on the scale of the link, for any link, with intervals by the score or the profile.

    For trees per 100 read the adjusted rates; this is what a table of a manuscript or another calculation needs.

    Parameters
    ----------
    confidence : float
        Confidence level, a proportion.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.model("strength", link="probit").coefficients().table()["coefficient"].to_list()[-1]
    'strength 5000'
    """
    return Coefficients(self._core.coefficients(confidence), self._shown_with())


def adjusted_rates(
    self: Model,
    treatment: str,
    *,
    within: str | None = None,
    at: Mapping[str, Any] | None = None,
    average: AverageOver = "alike",
    rate_of: RateOf = "all-trays",
    confidence: Confidence = 0.95,
) -> AdjustedRates:
    """Take rates per level of a treatment, averaged over the other effects.

    Parameters
    ----------
    treatment : str
        The treatment.
    within : str, optional
        A second treatment whose levels are kept apart.
    at : dict, optional
        Treatments and covariates held at a value, for example ``{"rootstock": "K12"}``; covariates are at their
        mean otherwise. A value beyond the tested range is noted.
    average : {"alike", "as-stuck"} or dict
        How the other treatments are averaged over: all combinations alike, by their share of the cuttings stuck,
        or by shares of your own, for example ``{"rootstock": {"K12": 0.6, "K17": 0.3, "K30": 0.1}}``. Shares are
        scaled to sum to 1; every level needs one. Combinations that nothing tells of are left out, with a note.
    rate_of : {"all-trays", "typical-tray"}
        Where trays have random effects: the rate over all trays, or that of a tray in the middle. They differ.
    confidence : float
        Confidence level, a proportion.

    Raises
    ------
    rootling.exceptions.ChoiceError
        For an unknown treatment or level (the nearest is named), a level without trays, a mix that leaves out a
        level.

    Notes
    -----
    Print these to set levels beside each other: what lies unevenly over them is taken out, so they need not be the
    rates as counted. Those of ``trial.take_rates`` say what was there, the mix with it; print them beside counts.

    Limits stay between 0 and 100 %: they come from the delta method on the logit scale (Lane and Nelder 1982).
    Where none of a level's cuttings did the lower limit is 0, where all did the upper one is 100 %: a count of 0
    cannot rule out 0.

    Rates hold over further blocks and seasons like those of the trial, as those of ``trial.take_rates`` do
    (``holds_over``): how blocks differ is part of their limits, with few degrees of freedom where there are few
    blocks. Contrasts and letters compare within blocks and are no wider for it. A block that is asked for, held by
    ``at=`` or given shares is meant itself (``holds_at``), and where trays enter by another law than ``"auto"``
    rates hold for the blocks at hand; a note says which.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> rates = trial.model(["strength", "rootstock"]).adjusted_rates("strength")
    >>> rates.table().height, rates.holds_over
    (3, ('bench',))
    """
    options = {"within": within, "at": held(at), "average": averaged(average)}
    options |= {"rate_of": rate_of, "confidence": confidence}
    return AdjustedRates(self._core.adjusted_rates(treatment, options), self._shown_with())
