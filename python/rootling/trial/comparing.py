"""What a trial is asked of levels: two of them, or all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, overload

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import (
    Adjustment,
    Confidence,
    GradesOf,
    MeanOf,
    Outcome,
    Progress,
    Trays,
)
from rootling.compare import AllComparisons, Comparison
from rootling.exceptions import ChoiceError
from rootling.responses import ResponseComparison
from rootling.trial.given import apart, levels_within, one_treatment
from rootling.trial.grading import asked, is_grade

if TYPE_CHECKING:
    from rootling.trial.trial import Trial


@overload
def compare(
    self: Trial,
    treatment: str,
    first: Any,
    second: Any,
    *,
    at: Mapping[str, Any] | None = None,
    margin: float | None = None,
    confidence: Confidence = 0.95,
    method: str | None = None,
    trays: Trays = "auto",
    seed: int = 1,
    nearly: float = 0.10,
    outcome: Outcome = "take",
    response: None = None,
    at_least: None = None,
    grades_of: None = None,
    mean_of: None = None,
    progress: Progress | None = None,
) -> Comparison: ...


@overload
def compare(
    self: Trial,
    treatment: str,
    first: Any,
    second: Any,
    *,
    at: Mapping[str, Any] | None = None,
    confidence: Confidence = 0.95,
    seed: int = 1,
    response: str,
    at_least: None = None,
    mean_of: MeanOf | None = None,
    progress: Progress | None = None,
) -> ResponseComparison: ...


@overload
def compare(
    self: Trial,
    treatment: str,
    first: Any,
    second: Any,
    *,
    at: Mapping[str, Any] | None = None,
    margin: float | None = None,
    confidence: Confidence = 0.95,
    method: str | None = None,
    trays: Trays = "auto",
    seed: int = 1,
    nearly: float = 0.10,
    response: str,
    at_least: int,
    grades_of: GradesOf | None = None,
    progress: Progress | None = None,
) -> Comparison: ...


def compare(
    self: Trial,
    treatment: str,
    first: Any,
    second: Any,
    *,
    at: Mapping[str, Any] | None = None,
    margin: float | None = None,
    confidence: Confidence = 0.95,
    method: str | None = None,
    trays: Trays = "auto",
    seed: int = 1,
    nearly: float = 0.10,
    outcome: Outcome = "take",
    response: str | None = None,
    at_least: int | None = None,
    grades_of: GradesOf | None = None,
    mean_of: MeanOf | None = None,
    progress: Progress | None = None,
) -> Comparison | ResponseComparison:
    """Compares two levels of a treatment, tray by tray where trays are recorded.

    A treatment that does not change within any level of a recorded column (season, block, whole plot, stock plant)
    was given to these as a whole and is judged against them; places within which it changes are strata.

    Other treatments that ``at`` does not fix are asked whether the difference changes with them, by a model of the
    same trays; where it does (P below 0.05, after Holm) decision and note ``differs_between_levels`` say so.

    Parameters
    ----------
    treatment : str
        The treatment.
    first, second
        Its two levels; the difference is second minus first.
    at : dict, optional
        Levels of other treatments to stay within, for example ``{"rootstock": "K12"}``.
    margin : float, optional
        Difference in take rate (a proportion) that would not matter, for a claim of equivalence.
    confidence : float
        Confidence level.
    method : str, optional
        Interval for the difference of pooled cuttings.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    seed : int
        Seed of the randomisation test when it has to draw.
    nearly : float
        The difference that matters, a proportion: 0.10 is ten trees per 100. By it the sentence says "no reason to
        change", and it asks for as many trays as narrow the interval to that much either way.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
        lived. The two others stand in the details.
    response : str, optional
        A response that was declared with ``responses=`` when the trial was loaded, to be compared in place of takes.
        Of counts, lengths and masses the difference of means leads, its ratio and its two parts (rooted or not, and
        what the rooted have) follow; goes with ``at``, ``confidence`` and ``seed``. Trays, or what the treatment was
        given to, are the units; trays dealt anew by their means are the second opinion. Of grades the share of
        cuttings is compared that reach the grade of ``at_least``.
    at_least : int, optional
        The grade that counts.
    grades_of : {"stuck", "rooted"}, optional
        Which cuttings grades are of, as in :meth:`grades`.
    mean_of : {"stuck", "rooted"}, optional
        What means of a response are over, as in :meth:`Trial.means`.
    progress : callable, optional
        Called with the parts of the work done and those there are, where it has parts that take long. In a notebook and
        at a terminal a bar is shown where none is given and the work takes more than a second.

    Returns
    -------
    Comparison
        With ``response`` a :class:`~rootling.responses.ResponseComparison`. ``unit`` and ``judged_by``, what the
        difference is judged by; ``carried``, how many units of either level
        lie in strata that hold both, with the strata used and left out; ``withheld``, why there is no test where
        there is none; ``follows_time``, the season or block over which the levels follow one another.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.compare("strength", 2500, 5000).kind
    'comparison'

    Roots in place of takes:

    >>> rows = {"strength": [0] * 4 + [2500] * 4, "tray": list("abcdefgh"), "stuck": [20] * 8,
    ...         "rooted": [6, 8, 5, 9, 13, 15, 12, 14], "roots": [2.0, 2.5, 2.2, 3.0, 4.0, 4.4, 3.5, 5.0]}
    >>> trial = rl.load_trial(rows, rooted="rooted", stuck="stuck", treatments="strength", tray="tray",
    ...                       responses={"roots": rl.responses.count(means_of="rooted")}, primary="roots")
    >>> round(trial.compare("strength", 0, 2500, response="roots").value, 3)
    2.0
    """
    apart(spelled(first), spelled(second), f"level of {treatment}")
    if response is not None and at_least is None and not is_grade(self, response):
        usual = {"margin": None, "method": None, "trays": "auto", "nearly": 0.10, "outcome": "take"}
        given = {"margin": margin, "method": method, "trays": trays, "nearly": nearly, "outcome": outcome}
        usual, given = {**usual, "grades_of": None}, {**given, "grades_of": grades_of}
        other = next((name for name in usual if given[name] != usual[name]), None)
        if other is not None:
            what = "grades" if other == "grades_of" else "takes"
            raise ChoiceError(
                f"{other}= is about {what} and goes not with response={response!r}; leave one of them out"
            )
        wanted = {"at": levels_within(self, at), "confidence": confidence, "seed": seed, "response": response}
        wanted["mean_of"] = mean_of
        return ResponseComparison(
            _core.responses.compare(self._core, treatment, spelled(first), spelled(second), wanted), {"trial": self}
        )
    if mean_of is not None:
        raise ChoiceError(
            f"mean_of={mean_of!r} says what means of a response are over; name it with response=, or leave it out"
        )
    trial, counted = asked(self, outcome, response, at_least, grades_of)
    options = {
        "at": levels_within(self, at),
        "margin": margin,
        "confidence": confidence,
        "method": method,
        "trays": trays,
        "seed": seed,
        "nearly": nearly,
        "outcome": counted,
    }
    record = _core.compare.strengths(trial._core, treatment, spelled(first), spelled(second), options, progress)
    return Comparison(record, {"trial": trial})


def compare_all(
    self: Trial,
    treatment: str,
    *,
    against: Any = None,
    together: Adjustment = "holm",
    at: Mapping[str, Any] | None = None,
    confidence: Confidence = 0.95,
    trays: Trays = "auto",
    seed: int = 1,
    nearly: float = 0.10,
    outcome: Outcome = "take",
    response: str | None = None,
    at_least: int | None = None,
    grades_of: GradesOf | None = None,
    progress: Progress | None = None,
) -> AllComparisons:
    """Compares all levels of a treatment, pair by pair or against one; P values and intervals hold together.

    Each pair is what :meth:`compare` makes of it, and the levels together are asked whether their differences
    change with other treatments (``changing``). Intervals are at the single-step level of the adjustment: Sidak's
    for the two Sidak forms, Bonferroni's for the others; with a stepwise adjustment a pair whose adjusted P value
    is small while its interval crosses 0 is not told apart, and its row says both.

    Parameters
    ----------
    treatment : str
        The treatment.
    against : level, optional
        The level that all others are set against, for example 0 for the control; every pair when left out.
    together : str
        As in :func:`rootling.compare.adjusted_p`.
    at : dict, optional
        Levels of other treatments to stay within, for example ``{"rootstock": "K12"}``.
    confidence : float
        Confidence level of all intervals together.
    trays : {"auto", "ignore"}
        ``"ignore"`` treats cuttings as independent, and the result is marked.
    seed : int
        Seed of the randomisation tests when they have to draw.
    nearly : float
        The difference that matters, a proportion; trays are asked for that narrow the intervals to that much.
    outcome : {"take", "survival", "rooted-of-survivors"}
        What is counted, in a trial loaded with ``dead=``; as in :meth:`compare`.
    response, at_least : str and int, optional
        The column of grades and the grade that counts: the share of cuttings that reach it is compared.
    grades_of : {"stuck", "rooted"}, optional
        Which cuttings grades are of, as in :meth:`grades`.
    progress : callable, optional
        Called with the parts of the work done and those there are, where it has parts that take long. In a notebook and
        at a terminal a bar is shown where none is given and the work takes more than a second.

    Returns
    -------
    AllComparisons

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
    >>> trial.compare_all("rootstock").table().height
    3
    """
    trial, counted = asked(self, outcome, response, at_least, grades_of)
    options = {
        "against": None if against is None else spelled(against),
        "together": together,
        "compare": {
            "at": levels_within(self, at),
            "confidence": confidence,
            "trays": trays,
            "seed": seed,
            "nearly": nearly,
            "outcome": counted,
        },
    }
    with one_treatment(self, treatment, ("compare_all", "treatment")):
        return AllComparisons(_core.compare.all_levels(trial._core, treatment, options, progress), {"trial": trial})
