"""What a trial is asked of a treatment as a whole: association, and trend along its levels."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import day, spelled
from rootling._given.choices import (
    AssociationMethod,
    Confidence,
    Outcome,
    Trays,
)
from rootling.tables import Association, Trend
from rootling.trial.given import apart, one_treatment

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


def association(
    self: Trial,
    treatment: str,
    *,
    within: str | None = None,
    trays: Trays = "auto",
    method: AssociationMethod | None = None,
    seed: int = 1,
    outcome: Outcome = "take",
) -> Association:
    """Tests a treatment against rooting; trays decide where recorded, places or plants where it was given to these.

    Parameters
    ----------
    treatment : str
        The treatment.
    within : str, optional
        A column whose levels are kept apart.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    method : str, optional
        The test that leads where trays are counted. With two levels the default is ``"score"``, the test of
        :meth:`compare`, so that one question has one P value. With more it is ``"tray-rates"``, F on tray rates
        within blocks and other treatments: alone among these it kept its false alarms at 2 to 5 % in simulated
        trials.
        ``"randomisation"`` of the same F; ``"donner"``, chi-square with the pooled tray correlation;
        ``"rao-scott"`` (counts divided by each treatment's design effect, Rao and Scott 1992),
        ``"rao-scott-first-order"`` and ``"rao-scott-second-order"`` (Rao and Scott 1984). All are in the table.
    seed : int
        Seed of the randomisation test when it has to draw.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived. The two others stand in the details.

    Returns
    -------
    Association
        Among others ``unit`` and ``judged_by``: the unit, and places or plants that cross it and add to the error;
        ``left_out``, those of them that this trial cannot tell of.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial({"planting": ["now", "spring"], "rooted": [156, 84], "stuck": [240, 240]},
    ...                       rooted="rooted", stuck="stuck", treatments="planting")
    >>> trial.association("planting").kind
    'association'
    """
    apart(treatment, within, "the treatment and the column to stay within")
    options = {"within": within, "trays": trays, "method": method, "seed": seed, "outcome": outcome}
    with one_treatment(self, treatment, ("association", "treatment")):
        return Association(_core.tables.association(self._core, treatment, options), {"trial": self})


def trend(
    self: Trial,
    treatment: str,
    *,
    scores: Mapping[Any, float | date | str] | None = None,
    confidence: Confidence = 0.95,
    trays: Trays = "auto",
    seed: int = 1,
    outcome: Outcome = "take",
) -> Trend:
    """Does the take rise or fall along the levels of a treatment? Trays decide where they are recorded.

    Parameters
    ----------
    treatment : str
        The treatment, for example the strength.
    scores : dict, optional
        A number for each level, or a day (a date, or a text such as ``"2026-03-31"``). When left out, levels that are
        numbers are their own scores, and levels that are dates lie as many days apart as they do in the calendar.
    confidence : float
        Confidence level.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    seed : int
        Seed of the exact test on cuttings when it has to draw; it stands where trays are not counted.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived. The two others stand in the details.

    Returns
    -------
    Trend

    Notes
    -----
    A trend is a straight line: a hump can pass it unseen, see ``departure``. Its rise and limits stay within 100
    trees per 100 either way; ``cut`` says that the line itself runs further and does not describe the levels.
    ``judged_by`` names the unit, and places or plants that cross it and add to the error. Dates were not dealt out, so
    a trend over them shows no cause: whether fewer survive, since when and where, is for :mod:`rootling.watch`.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.trend("strength").unit
    'tray'
    """
    options = {
        "confidence": confidence,
        "scores": _scores(scores),
        "trays": trays,
        "exact": {"seed": seed},
        "outcome": outcome,
    }
    with one_treatment(self, treatment, ("trend", "treatment")):
        return Trend(_core.tables.trial_trend(self._core, treatment, options), {"trial": self})


def _scores(given: Mapping[Any, Any] | None) -> dict[str, float] | None:
    """A number for each level; days count from the first of them."""
    if given is None:
        return None
    scores = {spelled(name): score for name, score in given.items()}
    if scores and all(isinstance(score, (date, str)) for score in scores.values()):
        days = {name: day("scores", score) or 0 for name, score in scores.items()}
        return {name: float(one - min(days.values())) for name, one in days.items()}
    return {name: float(score) for name, score in scores.items()}
