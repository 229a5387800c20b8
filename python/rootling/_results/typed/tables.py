"""Tests of tables as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class AssociationFields:
    """The tests, the leading one first within each stratum."""

    __slots__ = ()

    factor: str
    tests: tuple[AssociationTest, ...]
    by: tuple[str, ...]
    rates: tuple[shared.TakeRate, ...]
    p: float | None
    method: choices.TestName
    unit: str
    judged_by: tuple[str, ...]
    left_out: tuple[str, ...]
    adjusted_for: tuple[str, ...]
    smallest_p: float | None
    se: float | None
    withheld: str | None
    carried: tuple[shared.Carried, ...]
    follows_time: str | None


class Association(AssociationFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class AssociationTest(Numbers):
    """One test in one stratum."""

    __slots__ = ()

    stratum: str | None
    counts: str
    test: shared.TestResult


class ChiSquareFields:
    """Tests of association with what is needed to read them."""

    __slots__ = ()

    pearson: shared.TestResult
    corrected: shared.TestResult | None
    likelihood_ratio: shared.TestResult
    expected: tuple[tuple[float, ...], ...]
    residuals: tuple[tuple[float, ...], ...]
    smallest_expected: float


class ChiSquare(ChiSquareFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class CommonMethodEstimate(Numbers):
    """One number with its uncertainty."""

    __slots__ = ()

    value: float
    se: float | None
    low: float
    high: float
    confidence: float
    method: choices.CommonMethod


class CommonOddsRatio(Numbers):
    """Exact tests of a common odds ratio of 1, and its conditional estimate with limits."""

    __slots__ = ()

    statistic: float
    p: float
    p_lower: float
    p_higher: float
    mid_p: float
    mid_p_lower: float
    mid_p_higher: float
    odds_ratio: OddsRatioMethodEstimate
    odds_ratio_mid_p: OddsRatioMethodEstimate


class FisherExactFields:
    """P values of the exact test with the odds ratio they refer to."""

    __slots__ = ()

    p: float
    doubled: float
    blaker: float
    p_lower: float
    p_higher: float
    mid_p: float
    mid_p_doubled: float
    mid_p_lower: float
    mid_p_higher: float
    odds_ratio: OddsRatioMethodEstimate | None
    odds_ratio_left_out: str | None


class FisherExact(FisherExactFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class FreemanHaltonFields:
    """P of the exact test, and how it was reached."""

    __slots__ = ()

    p: float
    method: choices.Exactness
    se: float | None
    draws: int | None
    seed: int | None
    steps: int | None


class FreemanHalton(FreemanHaltonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Generalised(Numbers):
    """The three tests, from the widest alternative to the narrowest."""

    __slots__ = ()

    general: shared.TestResult
    mean_scores: shared.TestResult
    correlation: shared.TestResult


class Homogeneity(Numbers):
    """Tests that all strata have the same odds ratio, on strata less 1 degrees of freedom."""

    __slots__ = ()

    strata: int
    breslow_day: shared.TestResult
    tarone: shared.TestResult
    woolf: shared.TestResult | None


class LinearByLinearFields:
    """Linear association of two ordered factors."""

    __slots__ = ()

    correlation: float
    asymptotic: shared.TestResult
    p: float
    method: choices.Exactness
    se: float | None
    draws: int | None
    seed: int | None


class LinearByLinear(LinearByLinearFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MantelHaenszel(Numbers):
    """Tests and estimates of a common effect of the rows on the first column."""

    __slots__ = ()

    test: shared.TestResult
    corrected: shared.TestResult
    odds_ratio: CommonMethodEstimate
    ratio: CommonMethodEstimate
    difference: CommonMethodEstimate
    difference_std_error_greenland_robins: float


class OddsRatioMethodEstimate(Numbers):
    """One number with its uncertainty."""

    __slots__ = ()

    value: float
    se: float | None
    low: float
    high: float
    confidence: float
    method: choices.OddsRatioMethod


class PairedFields:
    """Paired rates compared."""

    __slots__ = ()

    n_pairs: int
    n_discordant: int
    first_rate: float
    second_rate: float
    value: float
    low: float
    high: float
    confidence: float
    method: choices.PairedMethod
    p: float
    tests: tuple[shared.TestResult, ...]
    odds_ratio: float | None
    odds_ratio_low: float
    odds_ratio_high: float


class Paired(PairedFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ScoredLevel(Numbers):
    """One level of the treatment."""

    __slots__ = ()

    level: str
    score: float
    rooted: int
    stuck: int
    n_units: int


class StratifiedFields:
    """Everything about tables in strata."""

    __slots__ = ()

    strata: int
    uninformative: tuple[int, ...]
    generalised: Generalised
    common: MantelHaenszel | None
    homogeneity: Homogeneity | None
    exact: CommonOddsRatio | None
    exact_left_out: str | None


class Stratified(StratifiedFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ThreeWayFields:
    """Test that the odds ratio of two factors is the same at both levels of the third."""

    __slots__ = ()

    pearson: shared.TestResult
    likelihood_ratio: shared.TestResult
    expected: tuple[tuple[tuple[float, float], tuple[float, float]], tuple[tuple[float, float], tuple[float, float]]]


class ThreeWay(ThreeWayFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TrendFields:
    """Tests of a trend in rooting over ordered groups."""

    __slots__ = ()

    z: float
    asymptotic: shared.TestResult
    p_higher: float
    p_lower: float
    departure: shared.TestResult | None
    slope: float
    exact: TrendExact


class Trend(TrendFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TrendExact(Numbers):
    """Exact P values of a trend; ``statistic`` is the sum of the scores of the rooted cuttings."""

    __slots__ = ()

    statistic: float
    mean: float
    p: float
    p_lower: float
    p_higher: float
    probability: float
    mid_p_lower: float
    mid_p_higher: float
    doubled: float
    by_distance: float
    method: choices.Exactness
    se: float | None
    draws: int | None
    seed: int | None


class TrendTest(Numbers):
    """A test and what it counts."""

    __slots__ = ()

    counts: str
    test: shared.TestResult


class TrialTrendFields:
    """Trend of the take rate over the levels of a treatment."""

    __slots__ = ()

    factor: str
    levels: tuple[ScoredLevel, ...]
    unit: str
    value: float
    cut: bool
    se: float | None
    low: float | None
    high: float | None
    confidence: float
    p: float | None
    tests: tuple[TrendTest, ...]
    departure: shared.TestResult | None
    spread: shared.TraySpread | None
    withheld: str | None
    carried: shared.Carried | None
    follows_time: str | None
    judged_by: tuple[str, ...]
    crossed_left_out: bool
    adjusted_for: tuple[str, ...]


class TrialTrend(TrialTrendFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class UnconditionalTestFields:
    """P values of an unconditional exact test."""

    __slots__ = ()

    method: choices.UnconditionalOrder
    p: float
    p_lower: float
    p_higher: float
    doubled: float
    common_rate: float
    value: float
    low: float
    high: float
    confidence: float


class UnconditionalTest(UnconditionalTestFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
