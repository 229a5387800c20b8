"""What a trial is asked of grades, and the share that reaches one in place of the take."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import Confidence, GradesOf
from rootling.exceptions import ChoiceError
from rootling.responses import Grades
from rootling.trial.given import one_treatment

if TYPE_CHECKING:
    from rootling.trial.trial import Trial

# What the core calls the counts of a trial that was made by ``reaching``.
REACHED = "grade-reached"


def reaching(trial: Trial, response: str, at_least: int, grades_of: str) -> Trial:
    """The trial whose counts are cuttings that reach a grade; its cautions were given when it was loaded."""
    made = object.__new__(type(trial))
    object.__setattr__(made, "_core", _core.grades.reaching(trial._core, response, at_least, grades_of))
    object.__setattr__(made, "about", trial.about)
    return made


def is_grade(trial: Trial, response: str) -> bool:
    """True for a response that was declared as a grade."""
    declared = trial.responses.get(response)
    return declared is not None and declared.kind == "grade"


def asked(
    trial: Trial, outcome: str, response: str | None, at_least: int | None, grades_of: str | None
) -> tuple[Trial, str]:
    """The trial that is asked and what it counts: as it stands, or the share of cuttings that reach a grade."""
    if response is None:
        wrong = next(
            (name for name, value in (("at_least", at_least), ("grades_of", grades_of)) if value is not None), None
        )
        if wrong is not None:
            raise ChoiceError(f'{wrong}= is about a response; name that too, for example response="grade"')
        return trial, outcome
    if at_least is None:
        raise ChoiceError(
            f"name the grade that counts: response={response!r}, at_least=3 asks for the share with 3 or better"
        )
    if outcome != "take":
        raise ChoiceError(
            f"outcome={outcome!r} counts roots or deaths and response={response!r} grades; leave one of them out"
        )
    return reaching(trial, response, at_least, grades_of or "stuck"), REACHED


def grades(
    self: Trial,
    treatment: str,
    *,
    response: str,
    at_least: int,
    grades_of: GradesOf = "stuck",
    against: Any = None,
    confidence: Confidence = 0.95,
    nearly: float = 0.10,
    seed: int = 1,
) -> Grades:
    """Grades at the levels of a treatment: the share that reaches a grade first, then all grades at once.

    The share of cuttings with ``at_least`` that grade is a count of a count, so it is judged as takes are, tray by
    tray (:meth:`compare`, :meth:`compare_all`). All grades at once are the second answer: a cumulative logit,
    ``logit P(grade >= j) = cut_j + effects``, with one odds ratio of a better grade for all grades, on effective
    cuttings; whether one serves is tested, and the ratio at each grade alone stands beside it.

    Parameters
    ----------
    treatment : str
        The treatment. Places within which it changes and the other treatments are taken out of the odds ratios.
    response : str
        The column of the grades, declared with :func:`rootling.responses.grade` when loading.
    at_least : int
        The grade that counts, such as the lowest that can be sold.
    grades_of : {"stuck", "rooted"}
        Which cuttings: all that were stuck, where one without a root and without a grade is below every grade; or
        those that rooted.
    against : level, optional
        The level that others are set against; the control, or the first, when left out. Shares are compared pair by
        pair where it is left out.
    confidence : float
        Confidence level.
    nearly : float
        The difference of shares that matters, a proportion.
    seed : int
        Seed of the randomisation test when it has to draw.

    Returns
    -------
    Grades
        ``levels``, each with its counts by grade, its median grade and its share with limits; ``all_grades``, the
        test, the odds ratios and whether one serves all grades; ``withheld``, why not, where they cannot be judged.

    Notes
    -----
    Grades have an order and no mean, so none is given. Grades that nobody holds are joined with the next one held. A
    level of which every cutting holds one end has a bound of its odds ratio and no estimate (``separation``).

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.grades(seed=1), rooted="rooted", treatments="strength", tray="tray",
    ...                       responses={"grade": rl.responses.grade(0, 5)})
    >>> found = trial.grades("strength", response="grade", at_least=3)
    >>> [list(level.counts[1:]) for level in found.levels]
    [[51, 15, 13, 15, 16, 10], [26, 13, 17, 20, 21, 23]]
    """
    options = {
        "response": response,
        "at_least": at_least,
        "of": grades_of,
        "against": None if against is None else spelled(against),
        "confidence": confidence,
        "nearly": nearly,
        "seed": seed,
    }
    with one_treatment(self, treatment, ("grades", "treatment")):
        found = _core.grades.grades(self._core, treatment, options)
    return Grades(found, {"trial": reaching(self, response, at_least, grades_of)})
