"""Comparisons as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class AllComparisonsFields:
    """All levels of one treatment compared."""

    __slots__ = ()

    factor: str
    against: str | None
    together: choices.Adjustment
    confidence: float
    interval_level: float
    n_tests: int
    unit: str
    method: str
    pairs: tuple[PairComparison, ...]
    outcome: choices.Outcome
    changing: tuple[Changing, ...]


class AllComparisons(AllComparisonsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class BesideDifference(Numbers):
    """The difference of another outcome."""

    __slots__ = ()

    outcome: choices.Outcome
    first: float
    second: float
    value: float
    low: float | None
    high: float | None
    p: float | None


class Changing(Numbers):
    """Whether differences between levels of a treatment change with another treatment."""

    __slots__ = ()

    treatment: str
    test: str
    statistic: float
    df: float
    error_df: float
    p: float
    p_adjusted: float
    differences: tuple[DifferenceAt, ...]
    highest: tuple[HighestAt, ...]


class ComparisonFields:
    """Two levels side by side."""

    __slots__ = ()

    factor: str
    first: shared.TakeRate
    second: shared.TakeRate
    value: float
    low: float | None
    high: float | None
    se: float | None
    confidence: float
    method: str
    p: float | None
    test: str | None
    statistic: float | None
    df: float | None
    within: tuple[str, ...]
    adjusted_for: tuple[str, ...]
    randomisation: shared.Randomisation | None
    tray_t: TrayTest | None
    tray_welch: TrayTest | None
    spread: shared.TraySpread | None
    ratio: tuple[float | None, float, float] | None
    odds_ratio: tuple[float, float, float] | None
    pooled_tests: tuple[shared.TestResult, ...]
    unit: str
    withheld: str | None
    margin: float | None
    same_mix: bool
    beside: tuple[BesideDifference, ...]
    carried: shared.Carried | None
    judged_by: tuple[str, ...]
    follows_time: str | None
    outcome: choices.Outcome
    changing: tuple[Changing, ...]


class Comparison(ComparisonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class DifferenceAt(Numbers):
    """A difference at one level of another treatment."""

    __slots__ = ()

    level: str
    first: str
    second: str
    value: float
    low: float | None
    high: float | None


class EquivalenceFields:
    """Two rates against a margin."""

    __slots__ = ()

    value: float
    low: float
    high: float
    interval_level: float
    confidence: float
    margin: float
    claim: choices.Claim
    p_not_worse: float
    p_not_better: float
    p: float
    shown: bool
    method: choices.MarginTest


class Equivalence(EquivalenceFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class HighestAt(Numbers):
    """What is highest at one level of another treatment."""

    __slots__ = ()

    level: str
    highest: str
    value: float


class PairComparison(Numbers):
    """One pair of levels."""

    __slots__ = ()

    first: str
    second: str
    value: float
    low: float | None
    high: float | None
    p: float | None
    p_adjusted: float | None
    test: str | None
    n_units: tuple[int, int]
    n_units_used: tuple[int, int]
    carried: shared.Carried | None
    error_df: float | None
    second_opinion: float | None
    smallest_p: float | None
    confirmed: bool
    withheld: str | None


class RandomisedDifferenceFields:
    """Two arms of trays compared by re-dealing them."""

    __slots__ = ()

    value: float
    low: float
    high: float
    confidence: float
    attained_confidence: float
    p: float
    smallest_p: float
    smallest_p_given_rates: float
    assignments: float
    drawn: int | None
    se: float | None
    n_units: tuple[int, int]
    n_strata: int


class RandomisedDifference(RandomisedDifferenceFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TrayTest(Numbers):
    """A t test on tray rates; the difference is second minus first."""

    __slots__ = ()

    difference: float
    statistic: float
    df: float
    p: float
    low: float
    high: float
