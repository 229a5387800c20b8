"""A fitted model as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from collections.abc import Mapping

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class Above(Numbers):
    """The layers above the trays and the effects that are constant within each, by name."""

    __slots__ = ()

    layers: Layers
    effects: tuple[tuple[str, ...], ...]
    within: tuple[tuple[int, ...], ...]


class Coefficient(Numbers):
    """One coefficient on the link scale."""

    __slots__ = ()

    name: str
    effect: str | None
    value: float
    se: float


class Component(Numbers):
    """One layer."""

    __slots__ = ()

    name: str
    place: int
    levels: int
    df: float
    correlation: float
    estimate: float
    mean_square: float
    beneath: float
    parts: Parts


class Confined(Numbers):
    """An effect that changes within a single one of the places taken out as fixed effects."""

    __slots__ = ()

    effect: str
    place: str
    level: str
    levels: int


class Convergence(Numbers):
    """The record of one fit."""

    __slots__ = ()

    iterations: int
    converged: bool
    tolerance: float
    start: tuple[float, ...]
    gradient_max: float
    condition: float
    rank: int
    verdict: choices.Verdict
    reason: str | None


class CorrelationUsed(Numbers):
    """The correlation of two cuttings of one tray, beyond what the effects of a model explain."""

    __slots__ = ()

    estimate: float
    floor: float
    events: float
    df: float


class Criteria(Numbers):
    """Criteria of a model; smaller is better, and only models of the same counts can be compared."""

    __slots__ = ()

    aic: float
    aicc: float | None
    bic: float
    parameters: int
    n: int
    of: choices.CriteriaUnit


class EqualIcc(Numbers):
    """The likelihood-ratio test that trays of all levels have one correlation."""

    __slots__ = ()

    by: str
    statistic: float
    df: float
    p: float


class Inseparable(Numbers):
    """A coefficient that cannot be estimated, with those it is confounded with."""

    __slots__ = ()

    name: str
    # numbers["with"]: tuple[str, ...]


class Known(Numbers):
    """A mean square of one trial."""

    __slots__ = ()

    unit: str
    role: str
    totals: bool
    mean_square: float
    beneath: float
    cuttings: float
    df: float


class LawRecord(Numbers):
    """How a law of the trays was fitted."""

    __slots__ = ()

    layout: str | None
    integration: str | None
    nodes: tuple[int, ...]
    settled: bool | None
    equal_icc: EqualIcc | None


class Layers(Numbers):
    """The layers of a trial, from the coarsest to the finest, and the trays beneath them."""

    __slots__ = ()

    tray: TrayPart
    components: tuple[Component, ...]
    alike: tuple[tuple[str, str], ...]
    tray_mean_square: float
    share_within: float
    own: tuple[Known, ...]
    shrunk: tuple[Shrunk, ...]


class ModelFields:
    """A fitted binomial model."""

    __slots__ = ()

    spec: ModelSpec
    trays: choices.TrayMode
    penalised: bool
    separated: tuple[str, ...]
    coefficients: tuple[Coefficient, ...]
    covariance: tuple[tuple[float, ...], ...]
    inseparable: tuple[Inseparable, ...]
    loglik: float
    penalised_loglik: float | None
    deviance: float
    deviance_without_effects: float
    pearson: float
    error_df: int
    criteria: Criteria | None
    strata: Strata
    spread: tuple[Spread, ...]
    law: LawRecord | None
    n_units: int
    n_cuttings: int
    convergence: Convergence


class Model(ModelFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ModelSpec(Numbers):
    """Effects, interactions, link and the treatment of trays."""

    __slots__ = ()

    effects: tuple[str, ...]
    interactions: tuple[tuple[str, ...], ...]
    link: choices.Link
    trays: choices.TrayMode
    penalised: bool
    reference: Mapping[str, str]
    controls: Mapping[str, str]
    ordered: tuple[str, ...]
    strength: str | None
    outcome: choices.Outcome
    numeric: tuple[str, ...]
    polynomials: Mapping[str, int]
    offset: str | None
    weights: str | None
    confidence: float
    correlation_by: str | None
    random: tuple[str, ...]
    reached: Reached | None
    robust_by: str | None
    spoken: Spoken | None


class Parts(Numbers):
    """A layer's mean square over the variance of one cutting: as used, and its expectation."""

    __slots__ = ()

    used: float
    base: float
    by: tuple[float, ...]
    ratio: float


class Reached(Numbers):
    """A grade that cuttings reach or not."""

    __slots__ = ()

    response: str
    at_least: int
    highest: int
    of: choices.GradesOf


class Shrunk(Numbers):
    """The mean square of one layer of the present trial with what earlier trials add."""

    __slots__ = ()

    unit: str
    trials: int
    own: float
    own_df: float
    expected: float
    earlier_df: float
    used: float
    df: float
    differs: bool


class Spoken(Numbers):
    """The words for the levels of one treatment."""

    __slots__ = ()

    treatment: str
    unit: str | None
    substance: str | None
    method: str | None


class Spread(Numbers):
    """How one layer of the design spreads around its treatments."""

    __slots__ = ()

    of: str
    level: str | None
    measure: str
    value: float
    se: float | None
    low: float
    high: float | None
    latent_icc: float | None
    score: float | None
    n_levels: int
    df: float | None


class Strata(Numbers):
    """The error strata of a model."""

    __slots__ = ()

    tray: Stratum
    raw_dispersion: float | None
    whole_plots: WholePlots | None
    correlation: CorrelationUsed | None
    above: Above | None
    confined: tuple[Confined, ...]
    layers: tuple[WholePlots, ...]


class Stratum(Numbers):
    """A dispersion with its degrees of freedom; without them the binomial variance itself is the error."""

    __slots__ = ()

    dispersion: float
    df: float | None


class TrayPart(Numbers):
    """The correlation of two cuttings of one tray beyond design and places."""

    __slots__ = ()

    estimate: float
    floor: float
    events: float
    df: float


class WholePlots(Numbers):
    """The whole-plot stratum."""

    __slots__ = ()

    name: str
    effects: tuple[str, ...]
    error: Stratum | None
