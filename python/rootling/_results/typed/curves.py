"""Strength curves as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class BestOf(Numbers):
    """The best strength of one of the curves compared."""

    __slots__ = ()

    curve: str
    value: float
    low: float
    high: float
    located: choices.Located
    withheld: choices.Withheld | None
    range_low: float
    range_high: float


class BestsCompared(Numbers):
    """The best strengths of the curves compared."""

    __slots__ = ()

    each: tuple[BestOf, ...]
    differ: bool | None
    suits_from: float | None
    suits_to: float | None


class CurveDifferencesFields:
    """Curves compared."""

    __slots__ = ()

    names: tuple[str, ...]
    shape: choices.Shape
    tests: tuple[shared.TestResult, ...]
    distances: tuple[Shift, ...]
    heights: tuple[Shift, ...]
    bests: BestsCompared
    higher: int | None
    takes: tuple[tuple[shared.StrengthLevel, ...], ...]
    df: float | None
    confidence: float


class CurveDifferences(CurveDifferencesFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Shift(Numbers):
    """One curve set against the first."""

    __slots__ = ()

    curve: str
    against: str
    measure: str
    value: float
    low: float
    high: float


class StrengthCurveFields:
    """Curves of a trial."""

    __slots__ = ()

    input: shared.CurveInput
    curves: tuple[shared.OneCurve, ...]
    spread: shared.TraySpread | None
    spread_assumed: bool
    df: float | None
    confidence: float


class StrengthCurve(StrengthCurveFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class StrengthFor(Numbers):
    """A strength for a wanted take by one method."""

    __slots__ = ()

    curve: str
    method: choices.StrengthMethod
    shape: str
    value: float | None
    low: float
    high: float
    or_never: bool
    falls: bool
    outside: bool
    highest: tuple[float, float, float, float] | None
    lack_p: float | None
    without: tuple[float, float, float] | None


class StrengthsForFields:
    """Strengths for a wanted take."""

    __slots__ = ()

    take: float
    unit: str
    confidence: float
    rows: tuple[StrengthFor, ...]


class StrengthsFor(StrengthsForFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
