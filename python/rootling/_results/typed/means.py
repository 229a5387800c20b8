"""What a model of means answers as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class AdjustedMean(Numbers):
    """The adjusted mean of one level."""

    __slots__ = ()

    by: str
    within: str | None
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    df: float | None
    take: float
    n_units: int
    n_cuttings: int
    n_rooted: int
    n_measured: int


class AdjustedMeansFields:
    """All of them."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    by: str
    within: str | None
    confidence: float
    unit: str
    units_above: tuple[str, ...]
    means: tuple[AdjustedMean, ...]
    holds_over: tuple[str, ...]
    holds_at: tuple[str, ...]
    primary: bool
    n_left_out: int


class AdjustedMeans(AdjustedMeansFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class CheckedUnit(Numbers):
    """A unit beside what the model expects of it."""

    __slots__ = ()

    unit: str
    mean: float
    expected: float
    residual: float | None
    size: float


class EffectWithout(Numbers):
    """How the test of an effect changes when a single unit is left out."""

    __slots__ = ()

    effect: str
    p: float
    smallest_p: float
    smallest_without: str
    largest_p: float
    largest_without: str


class LetterMean(Numbers):
    """An adjusted mean with its letters."""

    __slots__ = ()

    by: str
    within: str | None
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    df: float | None
    take: float
    n_units: int
    n_cuttings: int
    n_rooted: int
    n_measured: int
    letters: str | None


class MeanChecksFields:
    """Checks of a model of means."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    unit: str
    units: tuple[CheckedUnit, ...]
    n_far: int
    growth: float | None
    growth_low: float | None
    growth_high: float | None
    without: tuple[EffectWithout, ...]
    confidence: float
    primary: bool
    n_left_out: int


class MeanChecks(MeanChecksFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MeanContrast(Numbers):
    """A difference of two adjusted means, or another contrast of several."""

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
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    not_ruled_out: float | None
    within_margin: bool | None
    why: str | None


class MeanContrastsFields:
    """A family of contrasts."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    by: str
    within: str | None
    against: str | None
    together: choices.Adjust
    confidence: float
    margin: float | None
    n_tests: int
    units: tuple[str, ...]
    contrasts: tuple[MeanContrast, ...]
    primary: bool
    n_left_out: int


class MeanContrasts(MeanContrastsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MeanEffect(Numbers):
    """The test of one effect."""

    __slots__ = ()

    effect: str
    test: str
    statistic: float | None
    df: float | None
    error_df: float | None
    p: float | None
    largest_difference: float | None
    not_ruled_out: float | None
    unit: str
    take_p: float | None
    of_rooted_p: float | None
    why: str | None


class MeanEffectsFields:
    """All of them."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    confidence: float
    effects: tuple[MeanEffect, ...]
    places: tuple[str, ...]
    n_units: int
    n_cuttings: int
    n_left_out: int
    primary: bool


class MeanEffects(MeanEffectsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MeanLettersFields:
    """Means with letters."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    by: str
    within: str | None
    together: choices.Adjust
    confidence: float
    unit: str
    fewest: bool
    means: tuple[LetterMean, ...]
    primary: bool
    n_left_out: int


class MeanLetters(MeanLettersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MeanModelSpec(Numbers):
    """A response, the treatments that may change it, and which of these may change each other."""

    __slots__ = ()

    response: str
    mean_of: choices.MeanOf | None
    effects: tuple[str, ...]
    interactions: tuple[tuple[str, ...], ...]
    confidence: float


class MeanPrediction(Numbers):
    """The mean expected of one combination of levels."""

    __slots__ = ()

    levels: tuple[str, ...]
    value: float | None
    se: float | None
    low: float | None
    high: float | None
    n_units: int


class MeanPredictionsFields:
    """Means expected of combinations of levels."""

    __slots__ = ()

    model: MeanModelSpec
    response: shared.Response
    mean_of: choices.MeanOf
    confidence: float
    rows: tuple[MeanPrediction, ...]
    primary: bool
    n_left_out: int


class MeanPredictions(MeanPredictionsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
