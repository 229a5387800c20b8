"""What a model is asked of levels: contrasts, and letters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling._given import spelled
from rootling._given.choices import (
    AverageOver,
    Confidence,
    ContrastAdjustment,
    ContrastPattern,
    LetterOrder,
    RateOf,
    RateScale,
)
from rootling.models.given import averaged, held, weighted
from rootling.models.results import Contrasts, Letters

if TYPE_CHECKING:
    from rootling.models.model import Model


def contrasts(
    self: Model,
    treatment: str,
    *,
    against: Any = None,
    pattern: ContrastPattern = "all-pairs",
    within: str | None = None,
    changing_with: str | None = None,
    scale: RateScale = "points",
    together: ContrastAdjustment = "joint",
    margin: float | None = None,
    at: Mapping[str, Any] | None = None,
    average: AverageOver = "alike",
    rate_of: RateOf = "all-trays",
    confidence: Confidence = 0.95,
    seed: int = 1,
) -> Contrasts:
    """Levels of a treatment set against each other: differences in trees per 100 with intervals that hold together.

    Parameters
    ----------
    treatment : str
        The treatment.
    against : level, optional
        The level that all others are set against; ``"control"`` for the trial's control (else strength 0, else the
        model's reference).
    pattern : {"all-pairs", "control", "steps", "trend"} or dict
        All pairs; all against one; each against the one before; the change from the lowest to the highest level
        along a straight line. Or weights per level that sum to 0, for example ``{0: -1, 2500: 0.5, 5000: 0.5}``;
        several such under names: ``{"any hormone": {...}, "strong": {...}}``.
    within : str, optional
        A second treatment: the contrasts are formed within each of its levels. All of them are one family.
    changing_with : str, optional
        A second treatment: how contrasts change between its levels. The model needs the interaction of the two.
    scale : {"points", "ratio", "odds"}
        Differences, ratios of rates, or odds ratios. Of two rates "no difference" is one hypothesis on all three,
        with one P value. With ``changing_with``, weights or ``pattern="trend"`` each scale is a question of its
        own: differences may change where odds ratios do not. Odds ratios are of rates averaged over the other
        treatments; :meth:`odds_ratios` holds the others alike and lies further from 1.
    together : str
        ``"joint"``, ``"tukey-kramer"``, ``"dunnett"`` and ``"scheffe"`` go in one step: an interval leaves out no
        difference exactly where the adjusted P value is below 1 - confidence. ``"holm"``, ``"hochberg"``,
        ``"hommel"``, ``"sidak-step-down"``, ``"benjamini-hochberg"`` and ``"benjamini-yekutieli"`` go by steps and
        come with Bonferroni's (or Sidak's) intervals; ``"none"`` is noted.
    margin : float, optional
        Contrasts whose interval lies within it are shown to be equivalent: a proportion (0.1 is 10 trees per
        100), or a factor above 1 for ratios.
    at, average, rate_of
        As in :meth:`adjusted_rates`.
    confidence : float
        Confidence level of all intervals together.
    seed : int
        Seed of the quasi-random points of the joint distribution.

    Returns
    -------
    Contrasts
        ``value``, ``low``, ``high`` are proportions on the scale of points: 0.12 is 12 trees per 100. A
        ratio without a bound has the limit 0 or infinity; what is not available is None, with the reason in
        ``why``. ``statistic_is`` names what the statistic is held against.

    Raises
    ------
    rootling.exceptions.ChoiceError
        For unknown names (the nearest is named), weights that do not sum to 0, methods that do not suit the family,
        more contrasts than make sense, changes with a treatment of which the model has no interaction.

    Notes
    -----
    With trays (the default) each contrast is judged by its score where it is held at 0, which for two levels is
    the effect test, and its limits are where the score meets the critical value; otherwise by its likelihood
    ratio over the dispersion and the likelihood profile (Miettinen and Nurminen 1985; Venzon and Moolgavkar 1988;
    Hothorn, Bretz and Westfall 2008). Under a law of the trays (``"random"``, ``"beta-binomial"``) it is the
    likelihood ratio of that law with its spread maximised over: P compares the fit with the likeliest one in which
    the contrast is 0, and limits are where it is held at a value that is just not ruled out, on the scale asked for.
    So two levels have the P value of their odds ratio and of the effect test, and the same one on every scale.
    Where no such fit is found the covariance of the estimates stands in, and the note ``judged_by_covariance``
    says so. The correlations that tie several contrasts together come from the covariance under a law. With a
    robust covariance contrasts are judged by it.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> model = trial.model(["strength", "rootstock"])
    >>> model.contrasts("strength", against="control").table()["comparison"].to_list()
    ['strength 2500 against 0', 'strength 5000 against 0']
    """
    options = {
        "against": None if against is None else spelled(against),
        "pattern": weighted(pattern),
        "within": within,
        "changing_with": changing_with,
        "scale": scale,
        "together": str(together),
        "margin": margin,
        "at": held(at),
        "average": averaged(average),
        "rate_of": rate_of,
        "confidence": confidence,
        "seed": seed,
    }
    return Contrasts(self._core.contrasts(treatment, options), self._shown_with())


def letters(
    self: Model,
    treatment: str,
    *,
    within: str | None = None,
    order: LetterOrder = "descending",
    together: ContrastAdjustment = "joint",
    at: Mapping[str, Any] | None = None,
    average: AverageOver = "alike",
    rate_of: RateOf = "all-trays",
    confidence: Confidence = 0.95,
    seed: int = 1,
) -> Letters:
    """Adjusted rates with letters: two levels share a letter if and only if they are not shown to differ.

    A shared letter is no proof of equality. For a strength axis a curve says more.

    Parameters
    ----------
    treatment : str
        The treatment.
    within : str, optional
        A second treatment within whose levels letters are given.
    order : {"descending", "ascending"}
        Whether ``a`` goes to the highest or to the lowest rate.
    together : str
        As in :meth:`contrasts`, of all pairs.
    at, average, rate_of, seed
        As in :meth:`contrasts`.
    confidence : float
        Confidence level of each interval, and of all comparisons together.

    Returns
    -------
    Letters
        One row per level: rate, interval, letters, counts.

    Raises
    ------
    rootling.exceptions.ChoiceError
        As for :meth:`contrasts`.

    Notes
    -----
    The fewest letters are found (Piepho 2004; Gramm and others 2008).

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> trial.model(["strength", "rootstock"]).letters("rootstock").table()["letters"].to_list()
    ['ab', 'a', 'b']
    """
    options = {
        "within": within,
        "order": order,
        "together": str(together),
        "at": held(at),
        "average": averaged(average),
        "rate_of": rate_of,
        "confidence": confidence,
        "seed": seed,
    }
    return Letters(self._core.letters(treatment, options), self._shown_with())
