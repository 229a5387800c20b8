"""Numbers that several of these files hold, written by tests/_numbers.py from the core."""

from __future__ import annotations

from collections.abc import Mapping

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class Best(Numbers):
    """The best strength and its neighbours."""

    __slots__ = ()

    strength: StrengthLimits
    located: choices.Located
    take: float
    take_low: float
    take_high: float
    range_low: float
    range_high: float
    range_whole: bool
    adequate: StrengthLimits
    withheld: choices.Withheld | None
    bootstrap: Bootstrap | None


class Bootstrap(Numbers):
    """Percentile limits over drawn trials."""

    __slots__ = ()

    draws: int
    low: float
    high: float
    at_lowest: float
    at_highest: float
    adequate_low: float
    adequate_high: float


class Carried(Numbers):
    """How much of every level a comparison within strata rests on."""

    __slots__ = ()

    within: tuple[str, ...]
    n_strata: int
    n_strata_used: int
    levels: tuple[CarriedLevel, ...]
    left_out: tuple[str, ...]
    only: tuple[tuple[str, str], ...]
    by_fit: bool


class CarriedLevel(Numbers):
    """The units of one level."""

    __slots__ = ()

    level: str
    n_units: int
    n_units_used: int
    share: float


class CurveBays(Numbers):
    """The bays that carry the level of the curves."""

    __slots__ = ()

    column: str
    given: str
    between: bool
    df: float
    curves: tuple[LevelOverBays, ...]
    covariances: tuple[tuple[float, ...], ...]
    takes: tuple[LevelOverBays, ...]
    uneven: str | None


class CurveBlocks(Numbers):
    """The blocks that are taken out of the curves."""

    __slots__ = ()

    column: str
    levels: tuple[str, ...]
    places: str


class CurveGroup(Numbers):
    """The trays of one curve."""

    __slots__ = ()

    levels: tuple[str, ...]
    trays: tuple[TrayCount, ...]


class CurveInput(Numbers):
    """All that decides a strength curve: trays and options."""

    __slots__ = ()

    strength: Strength | None
    unit: str
    counted: bool
    pooled: bool
    unit_of: str
    blocks: CurveBlocks | None
    groups: tuple[CurveGroup, ...]
    notes: tuple[Note, ...]
    options: CurveOptions
    bays: CurveBays | None
    called: str
    damage: tuple[StayBelow | None, ...]
    places: CurvePlaces | None


class CurveOptions(Numbers):
    """Options of strength_curve."""

    __slots__ = ()

    column: str
    within: tuple[str, ...]
    common: tuple[str, ...]
    at: Mapping[str, str]
    shape: choices.ShapeChoice
    link: choices.Link
    confidence: float
    nearly: float
    enough: float
    zero_scale: float | None
    trays: choices.CurveTrays
    blocks: choices.BlocksUse
    draws: int
    seed: int
    outcome: choices.Outcome


class CurvePlaces(Numbers):
    """The places that are taken out, with bays that carry the level, over which takes hold."""

    __slots__ = ()

    column: str
    df: float
    curves: tuple[LevelOverBays, ...]


class DeclaredStrength(Numbers):
    """What the numbers of a column of strengths were declared to be."""

    __slots__ = ()

    column: str
    substance: str
    unit: str
    method: str | None


class GivenTo(Numbers):
    """A treatment that was given to whole bays, blocks, seasons or plants, which then carry what is said of it."""

    __slots__ = ()

    treatment: str
    unit: str
    n_units: int
    levels: tuple[tuple[str, int], ...]


class LevelOverBays(Numbers):
    """How well the level of one curve is known over places."""

    __slots__ = ()

    effective: float
    df: float
    within: float


class Line(Numbers):
    """The averaged curve at closely spaced strengths."""

    __slots__ = ()

    strength: tuple[float, ...]
    value: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


class MadeWithFields:
    """How a result can be redone."""

    __slots__ = ()

    version: str
    options: tuple[tuple[str, str], ...]
    seed: int | None
    data_fingerprint: str | None
    given_to: tuple[GivenTo, ...]
    rests_on: tuple[tuple[str, float], ...]
    strength: DeclaredStrength | None


class MadeWith(MadeWithFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Note(Numbers):
    """A named caution with a sentence of explanation."""

    __slots__ = ()

    code: str
    text: str


class OneCurve(Numbers):
    """One curve."""

    __slots__ = ()

    levels: tuple[str, ...]
    name: str
    n_units: int
    n_cuttings: int
    zero_scale: float
    df: float | None
    shapes: tuple[ShapeFit, ...]
    out: tuple[ShapeOut, ...]
    strengths: tuple[StrengthLevel, ...]
    best: Best
    line: Line
    all_alike: bool
    lack_p: float | None


class Parameter(Numbers):
    """A parameter in plain words."""

    __slots__ = ()

    name: str
    value: float
    unit: str


class Randomisation(Numbers):
    """The outcome of a randomisation test."""

    __slots__ = ()

    p: float
    smallest_p: float
    smallest_p_given_rates: float
    assignments: float
    drawn: int | None
    se: float | None


class Response(Numbers):
    """A declared response."""

    __slots__ = ()

    column: str
    kind: choices.ResponseKind
    unit: choices.ResponseUnit | None
    lowest: int | None
    highest: int | None
    means_of: str | None


class ShapeFit(Numbers):
    """One shape fitted to one curve's counts."""

    __slots__ = ()

    shape: choices.Shape
    weight: float
    say: float
    aicc: float
    loglik: float
    deviance: float
    lack_df: float
    lack_p: float | None
    parameters: tuple[Parameter, ...]
    verdict: choices.Verdict
    reason: str | None
    iterations: int
    searches: int
    searches_agreeing: int
    gradient_max: float


class ShapeOut(Numbers):
    """A shape that was not fitted."""

    __slots__ = ()

    shape: choices.Shape
    why: str


class StayBelow(Numbers):
    """Where deaths are located to have risen along one curve."""

    __slots__ = ()

    rise: float
    value: float
    low: float
    high: float
    from_first: bool


class Strength(Numbers):
    """The checked meaning of a strength: substance, unit, basis, and how it was applied."""

    __slots__ = ()

    substance: str
    unit: str
    method: str | None
    carrier: str | None
    molar_mass: float | None


class StrengthLevel(Numbers):
    """The counts of one strength."""

    __slots__ = ()

    strength: float
    n_units: int
    rooted: int
    stuck: int
    value: float
    low: float
    high: float
    fitted: float
    monotone: float
    one_hump: float


class StrengthLimits(Numbers):
    """A strength with limits."""

    __slots__ = ()

    value: float
    low: float
    high: float
    open_low: bool
    open_high: bool


class TakeRate(Numbers):
    """The take rate of one combination of levels."""

    __slots__ = ()

    levels: tuple[str, ...]
    value: float
    low: float
    high: float
    rooted: int
    stuck: int
    n_units: int
    se: float | None


class TestResultFields:
    """One hypothesis test."""

    __slots__ = ()

    method: choices.TestName
    statistic: float | None
    df: float | None
    error_df: float | None
    p: float


class TestResult(TestResultFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class TrayCount(Numbers):
    """One experimental unit: a tray, or a whole plot where strengths were given to those."""

    __slots__ = ()

    strength: float
    rooted: int
    stuck: int
    block: int | None


class TraySpread(Numbers):
    """The spread between trays of the same treatment."""

    __slots__ = ()

    icc: float
    df: float
    dispersion: float | None
    dispersion_df: float
    icc_floor: float
    events: float
