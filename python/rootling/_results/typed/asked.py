"""What a model answers as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class AdjustedRate(Numbers):
    """The adjusted rate of one level."""

    __slots__ = ()

    by: str
    within: str | None
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    typical_tray: float | None
    rooted: int
    stuck: int
    n_units: int


class AdjustedRatesFields:
    """All of them."""

    __slots__ = ()

    by: str
    within: str | None
    unit: str
    rate_of: choices.RateOf
    confidence: float
    rates: tuple[AdjustedRate, ...]
    holds_over: tuple[str, ...]
    holds_at: tuple[str, ...]


class AdjustedRates(AdjustedRatesFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class BootstrapTestFields:
    """What the draws say of one effect."""

    __slots__ = ()

    effect: str
    test: str
    statistic: float
    df: float
    p: float
    monte_carlo_error: float
    draws: int
    exceeded: int
    failed: int
    approximate_p: float | None
    seed: int


class BootstrapTest(BootstrapTestFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class CalibrationGroup(Numbers):
    """Counts whose expected rates lie together."""

    __slots__ = ()

    fitted_low: float
    fitted_high: float
    n_units: int
    stuck: int
    rooted: int
    expected: float
    deviation: float


class ChecksFields:
    """All of them."""

    __slots__ = ()

    trays: tuple[TrayCheck, ...]
    goodness_of_fit: GoodnessOfFit | None
    dispersion: Dispersion | None
    hosmer_lemeshow: HosmerLemeshow | None
    link_check: LinkCheck | None
    calibration: tuple[CalibrationGroup, ...]
    quantile_plot: tuple[QuantilePoint, ...]
    seed: int
    refitted: bool
    unit: str


class Checks(ChecksFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class CoefficientEstimate(Numbers):
    """One coefficient."""

    __slots__ = ()

    coefficient: str
    effect: str | None
    value: float
    se: float | None
    low: float | None
    high: float | None
    statistic: float | None
    error_df: float | None
    p: float | None


class CoefficientsFields:
    """All of them."""

    __slots__ = ()

    link: str
    confidence: float
    coefficients: tuple[CoefficientEstimate, ...]


class Coefficients(CoefficientsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Contrast(Numbers):
    """One contrast."""

    __slots__ = ()

    comparison: str
    within: str | None
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    statistic: float | None
    df: float | None
    p: float | None
    p_adjusted: float | None
    not_ruled_out: float | None
    within_margin: bool | None
    why: str | None


class ContrastsFields:
    """A family of contrasts."""

    __slots__ = ()

    by: str
    within: str | None
    changing_with: str | None
    against: str | None
    scale: choices.Scale
    together: choices.Adjust
    confidence: float
    df: float | None
    critical: float | None
    margin: float | None
    n_tests: int
    contrasts: tuple[Contrast, ...]


class Contrasts(ContrastsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Dispersion(Numbers):
    """The spread between trays."""

    __slots__ = ()

    value: float
    df: float
    used: float


class EffectTest(Numbers):
    """The test of one effect."""

    __slots__ = ()

    effect: str
    test: str
    statistic: float | None
    df: float
    error_df: float | None
    p: float | None
    largest_difference: float | None
    not_ruled_out: float | None


class GoodnessOfFit(Numbers):
    """How far the counts lie from a model without tray effects, against chance."""

    __slots__ = ()

    pearson: float
    pearson_p: float
    deviance: float
    deviance_p: float
    df: float
    smallest_expected: float


class HosmerLemeshow(Numbers):
    """The test of a model for single cuttings."""

    __slots__ = ()

    statistic: float
    df: float
    p: float
    groups: int


class LetterRate(Numbers):
    """An adjusted rate with its letters."""

    __slots__ = ()

    by: str
    within: str | None
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    typical_tray: float | None
    rooted: int
    stuck: int
    n_units: int
    letters: str | None


class LettersFields:
    """Rates with letters."""

    __slots__ = ()

    by: str
    within: str | None
    together: choices.Adjust
    confidence: float
    unit: str
    fewest: bool
    rates: tuple[LetterRate, ...]


class Letters(LettersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class LinkCheck(Numbers):
    """The test of the squared linear predictor."""

    __slots__ = ()

    statistic: float
    error_df: float | None
    p: float


class ModelComparisonFields:
    """Both models and the test of what the larger one adds."""

    __slots__ = ()

    smaller: ModelLine
    larger: ModelLine
    added: tuple[str, ...]
    test: str
    statistic: float | None
    df: float
    error_df: float | None
    p: float | None


class ModelComparison(ModelComparisonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ModelLine(Numbers):
    """One of the two models."""

    __slots__ = ()

    effects: str
    parameters: int
    loglik: float | None
    aic: float | None
    aicc: float | None
    bic: float | None


class OddsRatio(Numbers):
    """One odds ratio."""

    __slots__ = ()

    coefficient: str
    comparison: str
    only_at: tuple[str, ...]
    odds_ratio: float
    low: float | None
    high: float | None
    statistic: float | None
    error_df: float | None
    p: float | None
    why: str | None


class OddsRatiosFields:
    """All of them."""

    __slots__ = ()

    confidence: float
    ratios: tuple[OddsRatio, ...]


class OddsRatios(OddsRatiosFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Prediction(Numbers):
    """What the model expects of one row."""

    __slots__ = ()

    row: int
    labels: tuple[str, ...]
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    df: float | None
    tray_low: int | None
    tray_high: int | None
    outside: tuple[str, ...]
    tried: bool


class PredictionsFields:
    """All of them."""

    __slots__ = ()

    columns: tuple[str, ...]
    confidence: float
    rate_of: choices.RateOf
    new_tray: int | None
    rows: tuple[Prediction, ...]
    holds_over: tuple[str, ...]
    holds_at: tuple[str, ...]


class Predictions(PredictionsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class QuantilePoint(Numbers):
    """One point of the quantile plot."""

    __slots__ = ()

    expected: float
    residual: float
    low: float
    high: float


class TrayCheck(Numbers):
    """One tray against the model."""

    __slots__ = ()

    tray: str
    treatment: str
    rooted: int
    stuck: int
    expected: float
    quantile_residual: float
    pearson_residual: float
    standardised_residual: float | None
    deviance_residual: float
    leverage: float
    distance: float | None
    one_step_change: float | None
    refit_change: float | None
    changes: str | None
    p: float


class WhatMattersFields:
    """All of them."""

    __slots__ = ()

    effects: tuple[EffectTest, ...]


class WhatMatters(WhatMattersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
