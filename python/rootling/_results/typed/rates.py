"""Take rates and tray correlations as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class BetaBinomialCorrelation(Numbers):
    """The beta-binomial fit."""

    __slots__ = ()

    value: float
    low: float
    high: float
    at_zero: bool
    extended: float
    lowest: float
    means: tuple[float, ...]
    loglik: float
    loglik_binomial: float
    p: float


class CorrelationEstimate(Numbers):
    """One estimate of the tray correlation."""

    __slots__ = ()

    method: choices.CorrelationMethod
    value: float
    low: float | None
    high: float | None


class RateLayer(Numbers):
    """A place or plant whose levels differ, as intervals of rates take it."""

    __slots__ = ()

    name: str
    levels: int
    df: float
    correlation: float
    estimate: float


class TakeRatesFields:
    """Take rates and the spread between trays behind their intervals."""

    __slots__ = ()

    rates: tuple[shared.TakeRate, ...]
    confidence: float
    method: str
    spread: shared.TraySpread | None
    layers: tuple[RateLayer, ...]
    df: tuple[float, ...]
    unit: str


class TakeRates(TakeRatesFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TargetTestFields:
    """P values of one rate against a target."""

    __slots__ = ()

    value: float
    target: float
    p: float
    p_lower: float
    p_higher: float
    statistic: float | None
    method: choices.TargetMethod


class TargetTest(TargetTestFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TrayCorrelationFields:
    """How alike two cuttings of one tray are, beyond sharing a treatment."""

    __slots__ = ()

    value: float
    low: float | None
    high: float | None
    confidence: float
    method: choices.CorrelationMethod
    design_effect: float
    design_effect_low: float | None
    design_effect_high: float | None
    tray_size: float
    df: float
    dispersion: float | None
    n_units: int
    n_treatments: int
    n_cuttings: int
    estimates: tuple[CorrelationEstimate, ...]
    beta_binomial: BetaBinomialCorrelation | None
    called: str


class TrayCorrelation(TrayCorrelationFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
