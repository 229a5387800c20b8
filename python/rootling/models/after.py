"""What a model is asked after its fit: predictions, checks, and tests against other models."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rootling import _frames
from rootling._given import shortened
from rootling._given.choices import (
    Confidence,
    RateOf,
)
from rootling.exceptions import ChoiceError
from rootling.models.given import not_a_name
from rootling.models.results import BootstrapTest, Checks, ModelComparison, Predictions

if TYPE_CHECKING:
    from rootling.models.model import Model


def predict(
    self: Model,
    frame: Any,
    *,
    confidence: Confidence = 0.95,
    rate_of: RateOf = "all-trays",
    new_tray: int | None = None,
) -> Predictions:
    """The take rate that the model expects of new rows, with intervals.

    Parameters
    ----------
    frame
        The rows: a path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of
        columns. Every effect of the model needs its column; a block may be left out and is then averaged over.
    confidence : float
        Confidence level, a proportion.
    rate_of : {"all-trays", "typical-tray"}
        With random trays: the share rooted over all trays, or the rate of a tray whose random effects are 0. Other
        models have only the first.
    new_tray : int, optional
        Cuttings of a tray still to be set; its count gets a range too (``tray_low``, ``tray_high``): beta-binomial
        quantiles that allow for the spread between trays and for the rate being estimated.

    Returns
    -------
    Predictions

    Raises
    ------
    TrialDataError
        For a missing column, a level that the model does not know or an entry that is no number, with its row.
    ChoiceError
        For the name of an effect in place of rows.

    Notes
    -----
    Where none of the cuttings of a row's combination did in the trial the lower limit is 0, where all did the upper
    one is 100 %: a count of 0 cannot rule out 0.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> model = trial.model(["strength", "rootstock"])
    >>> model.predict({"strength": [2500], "rootstock": ["K12"]}, new_tray=20).table().height
    1
    """
    not_a_name(frame, self._core.columns)
    given = _frames.read(frame, self._core.columns)
    rows = given.frame if given.text is None else given.text
    options = {"confidence": confidence, "rate_of": rate_of, "new_tray": new_tray}
    return Predictions(self._core.predict(rows, options), self._shown_with())


def checks(self: Model, *, seed: int = 1, groups: int = 10, refit: bool | None = None) -> Checks:
    """Whether the model holds: residuals, leverage and influence of every tray, fit, calibration and link.

    Parameters
    ----------
    seed : int
        Seed of the randomised quantile residuals.
    groups : int
        Groups of the calibration, and of the Hosmer-Lemeshow test where rows are single cuttings, 3 to 100.
    refit : bool, optional
        Fit the model without each tray in turn. Left out: with at most 300 trays.

    Returns
    -------
    Checks
        See :class:`rootling.models.Checks`.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.model(["strength"]).checks().table().height
    12
    """
    options = {"seed": seed, "groups": groups, "refit": refit}
    return Checks(self._core.checks(options), self._shown_with())


def against(self: Model, smaller: Model) -> ModelComparison:
    """What this model adds to a smaller one of the same trial.

    Parameters
    ----------
    smaller : Model
        A model whose effects are contained in this one's: by name, or because its columns are combinations of this
        one's, as a straight line is of levels. Same counts, link and ``trays=``.

    Returns
    -------
    ModelComparison
        The likelihood-ratio or F test, with AIC, AICc and BIC of both where they have a likelihood.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> trial.model(["strength", "rootstock"]).against(trial.model("strength")).added
    ('rootstock',)
    """
    if not isinstance(smaller, type(self)):
        raise ChoiceError(f"smaller={shortened(smaller)} is no model; give one made by trial.model(...)")
    return ModelComparison(self._core.against(smaller._core), self._shown_with())


def bootstrap_test(
    self: Model,
    effect: str,
    *,
    draws: int = 999,
    seed: int = 1,
    progress: Callable[[int, int], object] | None = None,
) -> BootstrapTest:
    """Tests an effect by drawing trials from the model without it (parametric bootstrap).

    Parameters
    ----------
    effect : str
        One of the effects, or an interaction as ``"strength x rootstock"``.
    draws : int
        Trials to draw, 99 to 1,000,000.
    seed : int
        Seed; the number of threads makes no difference.
    progress : callable, optional
        Called about ten times a second with the draws done and the draws in all, to move a progress bar.

    Returns
    -------
    BootstrapTest
        With ``p`` = (1 + exceeded) / (draws + 1) and its ``monte_carlo_error``.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.model("strength").bootstrap_test("strength", draws=199).draws
    199
    """
    options = {"draws": draws, "seed": seed}
    return BootstrapTest(self._core.bootstrap_test(effect, options, progress), self._shown_with())
