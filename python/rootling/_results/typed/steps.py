"""The chain of steps, readers, early signs and times as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class AgreementFields:
    """How far two readers agree."""

    __slots__ = ()

    n_plants: int
    n_units: int | None
    value: float
    low: float | None
    high: float | None
    by_chance: float
    weights: choices.GradeWeights
    kappa: float | None
    kappa_se: float | None
    kappa_low: float | None
    kappa_high: float | None
    df: float | None
    confidence: float
    answers: tuple[GradeAgreement, ...]


class Agreement(AgreementFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class EarlySignFields:
    """What an early sign tells."""

    __slots__ = ()

    sign: str
    n_plants: int
    n_unread: int
    n_units: int | None
    kept: choices.Kept | None
    bounds: bool
    measures: tuple[SignMeasure, ...]
    freed: float
    lost: float | None
    lost_low: float | None
    lost_high: float | None
    rooted: float | None
    confidence: float


class EarlySign(EarlySignFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class GradeAgreement(Numbers):
    """How far two readers agree on one answer."""

    __slots__ = ()

    answer: str
    agreed: float | None
    first: float
    second: float
    difference: float
    low: float | None
    high: float | None


class HalfBy(Numbers):
    """When half of all started have come to it, known between two visits."""

    __slots__ = ()

    after: int | None
    by: int | None
    low: int | None
    high: int | None


class LevelCourse(Numbers):
    """Shares of one level over time."""

    __slots__ = ()

    level: str
    n_units: int | None
    started: int
    rooted: int
    dead: int
    half: HalfBy
    if_others_waited: float
    visits: tuple[ShareBy, ...]


class RateNumbers(Numbers):
    """A ratio of two rates."""

    __slots__ = ()

    value: float | None
    low: float | None
    high: float | None
    p: float | None


class ShareBy(Numbers):
    """Shares of all started by one visit."""

    __slots__ = ()

    day: int
    at_risk: float
    value: float
    low: float | None
    high: float | None
    other: float
    waiting: float


class SignMeasure(Numbers):
    """One answer about a sign."""

    __slots__ = ()

    question: choices.SignQuestion
    value: float | None
    low: float | None
    high: float | None
    as_read: float | None


class StartNumbersFields:
    """Numbers of plants started and at the end."""

    __slots__ = ()

    question: choices.StartQuestion
    started: int | None
    wanted: int
    assurance: float
    chance: float | None
    by_yield: int
    by_yield_chance: float
    alone: int | None
    alone_chance: float | None
    take: float
    se: float
    batch_size: float
    correlation: float
    season_sd: float
    df: float
    n_batches: int


class StartNumbers(StartNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class StepNumbers(Numbers):
    """One step."""

    __slots__ = ()

    step: str
    reached: int
    passed: int
    take: float
    low: float
    high: float
    left: float
    lost: float
    lost_se: float
    gain: float
    most_often: float


class StepPart(Numbers):
    """One step's part of a change."""

    __slots__ = ()

    step: str
    before: float
    after: float
    value: float


class StepYieldsFields:
    """The takes of all steps and the overall yield."""

    __slots__ = ()

    whose: choices.YieldOf
    start: str
    n_batches: int
    n_young: int
    n_started: int
    value: float
    low: float
    high: float
    se: float
    se_without_one: float | None
    df: float
    confidence: float
    draws: int
    steps: tuple[StepNumbers, ...]


class StepYields(StepYieldsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TimeCourseFields:
    """Shares of all started over time."""

    __slots__ = ()

    treatment: str | None
    event: choices.TimeEvent
    deaths: bool
    confidence: float
    levels: tuple[LevelCourse, ...]


class TimeCourse(TimeCourseFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TimesComparedFields:
    """Levels compared over time."""

    __slots__ = ()

    treatment: str
    event: choices.TimeEvent
    trays: bool
    confidence: float
    pairs: tuple[TimesPair, ...]


class TimesCompared(TimesComparedFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TimesPair(Numbers):
    """Two levels compared over time."""

    __slots__ = ()

    first: str
    second: str
    n_first: int
    n_second: int
    n_strata: int
    n_left_out: int
    day: int
    share_first: float
    share_second: float
    value: float
    low: float | None
    high: float | None
    rate: RateNumbers
    other_rate: RateNumbers
    p: float
    p_adjusted: float
    smallest_p: float
    assignments: float | None
    drawn: int | None
    p_error: float | None


class YieldChangeFields:
    """A change of the overall yield, later minus earlier; the parts of the steps add up to it."""

    __slots__ = ()

    before: float
    after: float
    value: float
    method: choices.SplitMethod
    steps: tuple[StepPart, ...]


class YieldChange(YieldChangeFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
