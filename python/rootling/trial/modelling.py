"""The question of several effects at once, asked of a trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, overload

from rootling import _core
from rootling._given import listed, spelled
from rootling._given.choices import (
    Confidence,
    GradesOf,
    Link,
    MeanOf,
    ModelTrays,
    Outcome,
)
from rootling.exceptions import ChoiceError
from rootling.models import MeanModel, Model
from rootling.trial.given import columns_of, effects_of, pairs_of
from rootling.trial.grading import asked, is_grade

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


@overload
def model(
    self: Trial,
    effects: str | Sequence[str],
    *,
    interactions: Sequence[Sequence[str]] = (),
    link: Link = "logit",
    trays: ModelTrays = "auto",
    random: str | Sequence[str] = (),
    correlation_by: str | None = None,
    robust_by: str | None = None,
    penalised: bool = False,
    reference: Mapping[str, Any] | None = None,
    numeric: str | Sequence[str] = (),
    polynomials: Mapping[str, int] | None = None,
    offset: str | None = None,
    weights: str | None = None,
    confidence: Confidence = 0.95,
    outcome: Outcome = "take",
    response: None = None,
    at_least: None = None,
    grades_of: None = None,
    mean_of: None = None,
) -> Model: ...


@overload
def model(
    self: Trial,
    effects: str | Sequence[str],
    *,
    interactions: Sequence[Sequence[str]] = (),
    link: Link = "logit",
    trays: ModelTrays = "auto",
    random: str | Sequence[str] = (),
    correlation_by: str | None = None,
    robust_by: str | None = None,
    penalised: bool = False,
    reference: Mapping[str, Any] | None = None,
    numeric: str | Sequence[str] = (),
    polynomials: Mapping[str, int] | None = None,
    offset: str | None = None,
    weights: str | None = None,
    confidence: Confidence = 0.95,
    outcome: Outcome = "take",
    response: str,
    at_least: int,
    grades_of: GradesOf | None = None,
) -> Model: ...


@overload
def model(
    self: Trial,
    effects: str | Sequence[str],
    *,
    interactions: Sequence[Sequence[str]] = (),
    confidence: Confidence = 0.95,
    response: str,
    at_least: None = None,
    mean_of: MeanOf | None = None,
) -> MeanModel: ...


def model(
    self: Trial,
    effects: str | Sequence[str],
    *,
    interactions: Sequence[Sequence[str]] = (),
    link: Link = "logit",
    trays: ModelTrays = "auto",
    random: str | Sequence[str] = (),
    correlation_by: str | None = None,
    robust_by: str | None = None,
    penalised: bool = False,
    reference: Mapping[str, Any] | None = None,
    numeric: str | Sequence[str] = (),
    polynomials: Mapping[str, int] | None = None,
    offset: str | None = None,
    weights: str | None = None,
    confidence: Confidence = 0.95,
    outcome: Outcome = "take",
    response: str | None = None,
    at_least: int | None = None,
    grades_of: GradesOf | None = None,
    mean_of: MeanOf | None = None,
) -> Model | MeanModel:
    """Fits a model of the take rate, or of the means of a response.

    Parameters
    ----------
    effects : list of str
        Treatments, design columns or covariates.
    interactions : list of tuple of str
        Which effects may depend on each other, two or more at a time, factors or covariates. The interactions of
        fewer effects inside one enter with it.
    link : {"logit", "probit", "complementary-log-log", "log-log"}
        Scale on which effects add up. Odds ratios come from the logit only.
    trays : {"auto", "effective", "dispersion", "beta-binomial", "random", "robust", "ignore"}
        How differences between trays beyond chance enter: as effective cuttings (``"effective"``, which ``"auto"``
        takes: counts divided by 1 + (m - 1) times the correlation within trays), as one ``"dispersion"``, by a beta
        law of the trays' rates with one correlation rho = 1 / (1 + a + b), by normal effects of trays and
        whole plots on the link scale with standard deviation s, by a covariance that is robust to any correlation
        inside trays or whole plots (``"robust"``: CR2 with Satterthwaite's degrees of freedom), or not at all. The
        latent correlation of the normal effects, s^2 / (s^2 + 3.29) on the logit scale, is not that rho.
    random : list of str, optional
        Recorded columns whose levels have random effects too, with ``trays="random"``: block, bay, batch (any
        covariate or treatment that is no effect), stock plant. Trays and recorded whole plots have them always. A
        level is one place wherever it stands; which columns lie in each other and which cross is read off the
        data and said in the notes. A block named here is no longer an additive effect.
    correlation_by : str, optional
        A recorded column each of whose levels has its own correlation within trays, with
        ``trays="beta-binomial"``; a note tests whether they are equal.
    robust_by : str, optional
        A recorded column whose levels are the clusters of ``trays="robust"``: block, bay, batch. When left out they
        are the recorded whole plots, and trays where there are none. A block named here is no longer an additive
        effect. Recorded whole plots must lie in one level each.
    penalised : bool
        Use the penalised fit even where no cell is all rooted or none rooted.
    reference : dict, optional
        The level that the others of an effect are set against. When left out it is the control of the trial
        (``load_trial(control=...)``, or strength 0), and without one the first level.
    numeric : list of str
        Treatments that enter as numbers, with one slope, and not level by level.
    polynomials : dict, optional
        Highest power of effects that enter as polynomials, for example ``{"dark_days": 2}``. The effect is tested
        with all its powers, and an interaction holds them all. Values are centred and scaled for the fit;
        coefficients are those of the values as they were given.
    offset : str, optional
        A covariate of the trial that is added on the link scale with coefficient 1. Rates are given at its mean.
    weights : str, optional
        A covariate of the trial with prior weights. A count's log-likelihood, its binomial coefficient included,
        is multiplied by its weight; its rate has variance p (1 - p) / (weight x stuck). With weight 0 it takes no
        part, and a note names it. For ``trays`` "dispersion" and "ignore".
    confidence : float
        Confidence level.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived; a note says what is left out of sight.
    response : str, optional
        A response that was declared with ``responses=``. Of counts, lengths and masses the means are modelled, trays
        as units: see :class:`~rootling.models.MeanModel`, which goes with ``interactions`` and ``confidence``. Of
        grades the share of cuttings that reach ``at_least`` takes the place of the take in every question of the
        model. All grades at once are asked by :meth:`grades`.
    at_least : int, optional
        The grade that counts.
    grades_of : {"stuck", "rooted"}, optional
        Which cuttings grades are of, as in :meth:`grades`.
    mean_of : {"stuck", "rooted"}, optional
        What means of a response are over, as in :meth:`Trial.means`.

    Returns
    -------
    Model
        Of the means of a response a :class:`~rootling.models.MeanModel`.

    Notes
    -----
    Log-likelihoods hold the binomial coefficients of the trays (of the counts, where none are recorded) in all
    modes, so they can be compared with one another. AIC is 2 k - 2 loglik with k coefficients and standard
    deviations or correlations of trays, AICc adds 2 k (k + 1) / (n - k - 1), BIC is k ln n - 2 loglik; n counts
    trays where a law of the trays is fitted and cuttings where they are taken as independent. A dispersion leaves
    no likelihood and a penalised fit is not at its maximum: there are none then.

    The penalised fit maximises the likelihood times the square root of the determinant of the information
    (Jeffreys' prior; Firth 1993), with every link. Its standard errors come from the ordinary information at that
    fit; limits and P values come from the profile of the penalised likelihood, whose penalty is always that of
    the whole design, and never from the standard errors: 20 of 20 against 14 of 20 rooted is P = 0.0076 so, and
    0.059 by the estimate over its standard error.

    Random effects are integrated out by adaptive Gauss-Hermite quadrature for trays alone and for trays in one
    other grouping, with as many nodes as it takes for the log-likelihood to settle to 1e-8, and by Laplace's
    approximation (crossed groupings, three layers and more). An effect is tested against the grouping of fewest
    degrees of freedom in whose levels it does not change, trays otherwise; a grouping has those that its levels add
    to the effects and to the groupings that do not lie in it. Rates have the fewest of all. ``spread`` holds each
    standard deviation with its profile limits.

    A standard deviation or correlation of trays at 0 is reported as 0 with its upper limit, and tests keep the
    degrees of freedom of the layout. Coefficients of ``trays="random"`` are those of a typical tray
    (conditional); rates are averages over all trays (marginal) unless asked otherwise.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> model = trial.model(["strength", "rootstock"])
    >>> model.what_matters().kind
    'what_matters'
    >>> nested = trial.model(["strength", "rootstock"], trays="random", random=["bench"])
    >>> nested.spread["of"].to_list()
    ['tray', 'bench']
    >>> clustered = trial.model(["strength"], trays="robust", robust_by="bench")
    >>> round(clustered.numbers.strata.tray.df, 1) < 12
    True
    """
    if response is not None and at_least is None and not is_grade(self, response):
        of_takes = {
            **{"link": link != "logit", "trays": trays != "auto", "random": random, "correlation_by": correlation_by},
            **{"robust_by": robust_by, "penalised": penalised, "reference": reference, "numeric": numeric},
            **{"polynomials": polynomials, "offset": offset, "weights": weights, "outcome": outcome != "take"},
        }
        return _of_means(
            self, effects, interactions, confidence, response, mean_of, {**of_takes, "grades_of": grades_of}
        )
    if mean_of is not None:
        raise ChoiceError(
            f"mean_of={mean_of!r} says what means of a response are over; name it with response=, or leave it out"
        )
    trial, counted = asked(self, outcome, response, at_least, grades_of)
    spec = {
        "effects": effects_of(effects, columns_of(self)),
        "interactions": pairs_of(interactions),
        "link": link,
        "trays": trays,
        "random": listed(random),
        "correlation_by": correlation_by,
        "robust_by": robust_by,
        "penalised": penalised,
        "reference": {name: spelled(value) for name, value in (reference or {}).items()},
        "numeric": listed(numeric),
        "polynomials": dict(polynomials or {}),
        "offset": offset,
        "weights": weights,
        "confidence": confidence,
        "outcome": counted,
    }
    return Model(_core.models.fit(trial._core, spec), trial)


def _of_means(
    trial: Trial,
    effects: str | Sequence[str],
    interactions: Sequence[Sequence[str]],
    confidence: float,
    response: str,
    mean_of: str | None,
    others: Mapping[str, Any],
) -> MeanModel:
    """A model of means; options that are about takes or grades do not go with it."""
    other = next((name for name, given in others.items() if given), None)
    if other is not None:
        what = "grades" if other == "grades_of" else "takes"
        raise ChoiceError(f"{other}= is about {what} and goes not with response={response!r}; leave one of them out")
    spec = {
        "response": response,
        "mean_of": mean_of,
        "effects": effects_of(effects, columns_of(trial)),
        "interactions": pairs_of(interactions),
        "confidence": confidence,
    }
    # Names are checked here, so that what cannot be asked is said when the model is made.
    _core.responses.predict_means(trial._core, spec, [])
    return MeanModel(trial, spec)
