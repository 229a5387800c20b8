"""What responses of cuttings show as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


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


class RatioAtGrade(Numbers):
    """The odds ratio at one grade alone."""

    __slots__ = ()

    at_least: int
    value: float | None
    low: float | None
    high: float | None
    p: float
