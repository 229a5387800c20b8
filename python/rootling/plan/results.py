"""What a plan answers."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Power(
    Result[typed.plan.Planned],
    typed.plan.PlannedFields,
    faces=Faces(
        figure=_figures.plan.power,
        question="How often would such a trial show what is there?",
        rows="rows",
    ),
):
    """How often planned trials show what is there."""

    kind = "power"


class Precision(
    Result[typed.plan.Planned],
    typed.plan.PlannedFields,
    faces=Faces(
        figure=_figures.plan.precision,
        question="How near would such a trial come to the difference?",
        rows="rows",
    ),
):
    """How near planned trials come."""

    kind = "precision"


class TraysNeeded(
    Result[typed.plan.Planned],
    typed.plan.PlannedFields,
    faces=Faces(
        figure=_figures.plan.needed,
        question="How many trays does it take?",
        rows="rows",
    ),
):
    """The fewest trays that show what is there as often as asked."""

    kind = "trays_needed"


class SmallestDifference(
    Result[typed.plan.Smallest],
    typed.plan.SmallestFields,
    faces=Faces(
        figure=_figures.plan.smallest,
        question="Which differences would such a trial show?",
        rows="rows",
    ),
):
    """The smallest differences that planned trials show as often as asked."""

    kind = "smallest_difference"


class Looks(
    Result[typed.plan.Looks],
    typed.plan.LooksFields,
    faces=Faces(
        figure=_figures.plan.looks,
        question="When may the trial end early?",
        rows="rows",
    ),
):
    """P levels of a trial that may end early."""

    kind = "looks"


class ChanceAtEnd(
    Result[typed.plan.EndChances],
    typed.plan.EndChancesFields,
    faces=Faces(
        figure=_figures.plan.chances,
        question="How will the trial end if it goes on?",
        rows="rows",
    ),
):
    """The chance that a trial under way ends with a difference shown."""

    kind = "chance_at_end"


class BestStrengthPlan(
    Result[typed.plan.CurvePlan],
    typed.plan.CurvePlanFields,
    faces=Faces(
        figure=_figures.plan.strengths,
        question="How well would such a trial find the best strength?",
    ),
):
    """How well planned trials find the best strength."""

    kind = "best_strength_plan"
