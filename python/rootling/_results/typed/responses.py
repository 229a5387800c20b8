"""Means of responses, and two of them compared, as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class AllGrades(Numbers):
    """All grades at once."""

    __slots__ = ()

    test: GradeTest
    odds: tuple[GradeOdds, ...]
    one_slope: GradeTest | None
    correlation: GradeCorrelation | None
    within: tuple[str, ...]
    joined: tuple[int, ...]
    steadied: bool
    n_units: int


class ColumnEffect(Numbers):
    """What one more of a column, or its level against the first, multiplies."""

    __slots__ = ()

    column: str
    level: str | None
    against: str | None
    on: choices.EffectOn
    value: float
    low: float | None
    high: float | None


class FittedCountsFields:
    """A law of plain counts."""

    __slots__ = ()

    name: str
    by: str
    law: choices.LawOfCounts
    groups: tuple[GroupOfCounts, ...]
    effects: tuple[ColumnEffect, ...]
    spread: float
    loglik: float
    n_parameters: int
    aic: float
    beside: tuple[LawBeside, ...]
    last_count: int
    confidence: float
    n_cuttings: int
    over_all_rows: bool


class FittedCounts(FittedCountsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class GradeCorrelation(Numbers):
    """The correlation of the grades of two cuttings of one tray, beyond what the effects explain."""

    __slots__ = ()

    estimate: float
    floor: float
    events: float
    df: float


class GradeLevel(Numbers):
    """The grades of one level."""

    __slots__ = ()

    level: str
    counts: tuple[int, ...]
    n_cuttings: int
    n_units: int
    median: int | None
    value: float
    low: float
    high: float


class GradeOdds(Numbers):
    """Odds of a better grade at one level over those at another."""

    __slots__ = ()

    level: str
    against: str
    value: float | None
    low: float | None
    high: float | None
    p: float
    by_grade: tuple[RatioAtGrade, ...]


class GradeTest(Numbers):
    """An F test of a treatment or of its odds ratios."""

    __slots__ = ()

    statistic: float
    df: float
    error_df: float | None
    p: float


class GradesFields:
    """Grades at the levels of a treatment."""

    __slots__ = ()

    response: str
    factor: str
    lowest: int
    highest: int
    at_least: int
    of: choices.GradesOf
    unit: str
    confidence: float
    levels: tuple[GradeLevel, ...]
    all_grades: AllGrades | None
    withheld: str | None


class Grades(GradesFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class GroupOfCounts(Numbers):
    """One group."""

    __slots__ = ()

    group: str
    value: float
    low: float | None
    high: float | None
    any: float
    any_low: float | None
    any_high: float | None
    of_any: float | None
    of_any_low: float | None
    of_any_high: float | None
    n_cuttings: int
    n_any: int
    total: int
    observed: tuple[int, ...]
    expected: tuple[float, ...]


class LawBeside(Numbers):
    """A law beside the others."""

    __slots__ = ()

    law: choices.LawOfCounts
    loglik: float | None
    n_parameters: int
    aic: float | None
    behind: float | None
    zeros: float | None
    spread: float | None
    why: str | None


class PartDifference(Numbers):
    """A part of a difference: takes, or means of those that rooted."""

    __slots__ = ()

    first: float
    second: float
    value: float
    low: float | None
    high: float | None
    p: float | None


class RatioAtGrade(Numbers):
    """The odds ratio at one grade alone."""

    __slots__ = ()

    at_least: int
    value: float | None
    low: float | None
    high: float | None
    p: float


class RatioOfMeans(Numbers):
    """The second mean over the first."""

    __slots__ = ()

    value: float
    low: float | None
    high: float | None


class ResponseComparisonFields:
    """Two levels of a treatment compared in a response."""

    __slots__ = ()

    response: shared.Response
    mean_of: choices.MeanOf
    factor: str
    first: ResponseMean
    second: ResponseMean
    value: float
    low: float | None
    high: float | None
    confidence: float
    statistic: float | None
    df: float | None
    p: float | None
    ratio: RatioOfMeans | None
    take: PartDifference | None
    of_rooted: PartDifference | None
    randomisation: shared.Randomisation | None
    within: tuple[str, ...]
    carried: shared.Carried
    unit: str
    withheld: str | None
    primary: bool
    n_left_out: int


class ResponseComparison(ResponseComparisonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ResponseMean(Numbers):
    """The mean of one combination of levels, and the two parts behind it."""

    __slots__ = ()

    levels: tuple[str, ...]
    value: float | None
    low: float | None
    high: float | None
    df: float | None
    take: float
    of_rooted: float | None
    of_rooted_low: float | None
    of_rooted_high: float | None
    n_units: int
    n_cuttings: int
    n_rooted: int
    n_measured: int


class ResponseMeansFields:
    """Means of a response."""

    __slots__ = ()

    response: shared.Response
    mean_of: choices.MeanOf
    by: tuple[str, ...]
    confidence: float
    unit: str
    means: tuple[ResponseMean, ...]
    primary: bool
    n_left_out: int


class ResponseMeans(ResponseMeansFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
