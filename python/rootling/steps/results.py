"""What the chain of steps, readers, early signs and visits are answered with."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class StepYields(
    Result[typed.steps.StepYields],
    typed.steps.StepYieldsFields,
    faces=Faces(
        figure=_figures.steps.yields,
        question="Where do trees go, from start to end?",
        rows="steps",
    ),
):
    """The take of each step and the overall yield of a chain."""

    kind = "step_yields"


class YieldComparison(
    Result[typed.steps.YieldComparison],
    typed.steps.YieldComparisonFields,
    faces=Faces(
        figure=_figures.steps.compared,
        question="How do two seasons, rooms or cultivars differ, step by step?",
    ),
):
    """Two levels of a column side by side, step by step; differences are second minus first."""

    kind = "yield_comparison"


class YieldsByLevel(
    Result[typed.steps.YieldsByLevel],
    typed.steps.YieldsByLevelFields,
    faces=Faces(
        figure=_figures.steps.by_level,
        question="Which season, room or cultivar brings most, and where do the others fall behind?",
    ),
):
    """All levels of a column side by side, with the gap to the best at each step."""

    kind = "yields_by_level"


class StartNumbers(
    Result[typed.steps.StartNumbers],
    typed.steps.StartNumbersFields,
    faces=Faces(
        figure=_figures.steps.starts,
        question="How many to start, and how sure is that?",
    ),
):
    """How many to start for so many at the end, or what so many started bring."""

    kind = "start_numbers"


class YieldChange(
    Result[typed.steps.YieldChange],
    typed.steps.YieldChangeFields,
    faces=Faces(
        figure=_figures.steps.yield_change,
        question="Which step does the change of the yield come from?",
        rows="steps",
    ),
):
    """A change of the overall yield, split over its steps."""

    kind = "yield_change"


class Agreement(
    Result[typed.steps.Agreement],
    typed.steps.AgreementFields,
    faces=Faces(
        figure=_figures.steps.agreement,
        question="How far do two readers agree?",
    ),
):
    """How far two readers of the same plants agree."""

    kind = "agreement"


class EarlySign(
    Result[typed.steps.EarlySign],
    typed.steps.EarlySignFields,
    faces=Faces(
        figure=_figures.steps.early_sign,
        question="What does the early sign tell, and what would culling on it lose?",
    ),
):
    """What an early sign of rooting tells, and what culling on it saves and loses."""

    kind = "early_sign"


class TimeCourse(
    Result[typed.steps.TimeCourse],
    typed.steps.TimeCourseFields,
    faces=Faces(
        figure=_figures.steps_time.time_course,
        question="When do plants root, and how many of all started?",
    ),
):
    """Shares of all started over time, by level."""

    kind = "time_course"


class TimesCompared(
    Result[typed.steps.TimesCompared],
    typed.steps.TimesComparedFields,
    faces=Faces(
        figure=_figures.steps_time.times_compared,
        question="Which level roots sooner, and how many more by then?",
        rows="pairs",
    ),
):
    """Levels compared over time."""

    kind = "times_compared"
