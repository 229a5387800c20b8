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
    points: choices.SignPoints
    more_rooted: float | None
    more_rooted_low: float | None
    more_rooted_high: float | None
    freed: float
    lost: float | None
    lost_low: float | None
    lost_high: float | None
    saved: float | None
    kept_gain: float | None
    kept_gain_low: float | None
    kept_gain_high: float | None
    forgone: float | None
    gained: float | None
    gained_low: float | None
    gained_high: float | None
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


class LevelPair(Numbers):
    """Two levels."""

    __slots__ = ()

    first: str
    second: str
    value: float
    low: float
    high: float


class LevelStep(Numbers):
    """One level at one step."""

    __slots__ = ()

    level: str
    step: str
    take: float
    low: float
    high: float
    best: str
    gap: float
    gain: float


class LevelYield(Numbers):
    """One level."""

    __slots__ = ()

    level: str
    n_batches: int
    n_started: int
    value: float
    low: float
    high: float
    df: float


class OtherShares(Numbers):
    """Shares of two levels of what rules out the event."""

    __slots__ = ()

    first: float
    second: float
    value: float
    low: float | None
    high: float | None


class PaceNumbers(Numbers):
    """The test of paces."""

    __slots__ = ()

    p: float
    p_adjusted: float
    smallest_p: float
    p_error: float | None


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
    found: float | None
    se: float
    batch_size: float
    correlation: float
    season_sd: float
    seasons: choices.SeasonSpread
    n_seasons: int | None
    df: float | None
    n_batches: int
    cost: float | None
    cost_per_tree: float | None
    costs: tuple[StepCost, ...]


class StartNumbers(StartNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class StepCost(Numbers):
    """What is spent on each plant that is started, or on each that comes to a step, whether it passes it or not."""

    __slots__ = ()

    step: str
    cost: float


class StepDifference(Numbers):
    """One step of two levels."""

    __slots__ = ()

    step: str
    take_first: float
    take_second: float
    value: float
    low: float
    high: float
    differs: bool
    part: float
    part_low: float
    part_high: float


class StepNumbers(Numbers):
    """One step."""

    __slots__ = ()

    step: str
    reached: int
    passed: int
    take: float
    low: float
    high: float
    df: float
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
    not_reached: tuple[str, ...]
    n_batches: int
    n_young: int
    n_lost_early: int
    n_started: int
    value: float
    low: float
    high: float
    se: float
    se_without_one: float | None
    df: float
    cost: float | None
    cost_low: float | None
    cost_high: float | None
    costs: tuple[StepCost, ...]
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
    other: OtherShares
    rate: RateNumbers
    other_rate: RateNumbers
    pace: PaceNumbers
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


class YieldComparisonFields:
    """Two levels side by side; differences are second minus first."""

    __slots__ = ()

    column: str
    first: str
    second: str
    whose: choices.YieldOf
    start: str
    n_batches_first: int
    n_batches_second: int
    same_batches: bool
    yield_first: float
    yield_second: float
    value: float
    low: float
    high: float
    df: float
    method: choices.SplitMethod
    steps: tuple[StepDifference, ...]
    rates: float | None
    rates_low: float | None
    rates_high: float | None
    mix: tuple[YieldMix, ...]
    without_partner: float | None
    overlap: float | None
    confidence: float


class YieldComparison(YieldComparisonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class YieldMix(Numbers):
    """What the mix of one column adds."""

    __slots__ = ()

    column: str
    value: float


class YieldsByLevelFields:
    """All levels of a column side by side."""

    __slots__ = ()

    column: str
    whose: choices.YieldOf
    start: str
    best: str
    may_be_best: tuple[str, ...]
    pairs: tuple[LevelPair, ...]
    levels: tuple[LevelYield, ...]
    steps: tuple[LevelStep, ...]
    left_out: tuple[str, ...]
    confidence: float


class YieldsByLevel(YieldsByLevelFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
