"""What a trial is asked of its rates, and of how alike cuttings of one tray are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rootling import _core
from rootling._given import listed
from rootling._given.choices import (
    Confidence,
    CorrelationMethod,
    Outcome,
    Trays,
)
from rootling.exceptions import ChoiceError
from rootling.rates import TakeRates, TrayCorrelation

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


def take_rates(
    self: Trial,
    by: str | Sequence[str] | None = None,
    *,
    confidence: Confidence = 0.95,
    method: str | None = None,
    trays: Trays = "auto",
    outcome: Outcome = "take",
) -> TakeRates:
    """Take rates (rooted of stuck) with intervals.

    Parameters
    ----------
    by : str or list of str, optional
        Columns whose levels get a rate each; all treatments when left out. An empty list is refused: one rate over
        different treatments answers no question.
    confidence : float
        Confidence level, a proportion.
    method : str, optional
        Interval for pooled cuttings; with trays the tray-aware interval is the default.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived. The two others stand in the details.

    Returns
    -------
    TakeRates
        ``rates``, one for each combination; ``layers``, the seasons, blocks, whole plots and stock plants that the
        rates are to hold over, each with the correlation of its trays; ``df``, the degrees of freedom of each
        interval.

    Notes
    -----
    These are the rates as counted: what was there. Where the levels hold other treatments in different shares
    (``uneven_mix``) part of what parts them is that mix; to compare levels print ``model.adjusted_rates``.

    Trays of one place or plant share its luck, so every recorded place enters, with degrees of freedom after
    Satterthwaite. A place named in ``by`` is asked for by itself. Where each level was in a single place the
    intervals hold for that place, and the note ``single_place`` says so.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.take_rates(by="strength").table().height
    2
    """
    if by is not None and not listed(by):
        raise ChoiceError("by names no column; leave it out for every combination of treatments")
    options = {"confidence": confidence, "method": method, "trays": trays, "outcome": outcome}
    return TakeRates(_core.rates.take_rates(self._core, list(dict.fromkeys(listed(by))), options), {"trial": self})


def tray_correlation(
    self: Trial, *, method: CorrelationMethod = "anova", confidence: Confidence = 0.95
) -> TrayCorrelation:
    """How alike two cuttings of one tray are, pooled over treatments, and what a tray is worth.

    Parameters
    ----------
    method : {"anova", "beta-binomial"}
        Which estimate leads; both are in the table. See :func:`rootling.rates.tray_correlation`.
    confidence : float
        Confidence level.

    Returns
    -------
    TrayCorrelation

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.tray_correlation().n_units
    12
    """
    options = {"confidence": confidence, "method": method}
    return TrayCorrelation(_core.rates.trial_correlation(self._core, options), {"trial": self})
