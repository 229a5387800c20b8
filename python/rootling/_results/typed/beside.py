"""Damage, surfaces and next trials as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class BestAt(Numbers):
    """The best strength at one darkness."""

    __slots__ = ()

    darkness: float
    strength: shared.StrengthLimits
    located: bool
    take: tuple[float, float, float]


class DamageCurve(Numbers):
    """Deaths along the strengths of one curve."""

    __slots__ = ()

    levels: tuple[str, ...]
    name: str
    n_units: int
    n_cuttings: int
    threshold: Threshold
    lowest: tuple[float, float, float]
    highest: tuple[float, float, float]
    possible_rise: float
    test: shared.TestResult
    strengths: tuple[shared.StrengthLevel, ...]
    shapes: tuple[shared.ShapeFit, ...]
    line: shared.Line
    survivors: shared.OneCurve | None
    rooted: tuple[int, ...]


class DamageThresholdFields:
    """Damage along the strengths of a trial."""

    __slots__ = ()

    input: shared.CurveInput
    rise: float
    curves: tuple[DamageCurve, ...]
    df: float | None
    confidence: float


class DamageThreshold(DamageThresholdFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class NextCurve(Numbers):
    """The next trial of one curve."""

    __slots__ = ()

    levels: tuple[str, ...]
    name: str
    n_units: int
    cuttings: float
    located: choices.Located
    withheld: choices.Withheld | None
    designs: tuple[NextDesign, ...]


class NextDesign(Numbers):
    """Trays of the next trial under one criterion."""

    __slots__ = ()

    criterion: choices.Criterion
    strengths: tuple[NextStrength, ...]
    width_ratio: float | None
    width_ratio_repeated: float | None


class NextStrength(Numbers):
    """Trays at one strength of the next trial."""

    __slots__ = ()

    strength: float
    n_units: int
    outside: bool
    why: choices.Why | None


class NextStrengthsFields:
    """Strengths to test next."""

    __slots__ = ()

    curves: tuple[NextCurve, ...]
    unit: str
    within: tuple[str, ...]
    called: str


class NextStrengths(NextStrengthsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ResponseSurfaceFields:
    """A surface over strength and darkness."""

    __slots__ = ()

    input: SurfaceInput
    shift: float
    best: tuple[BestAt, ...]
    tests: tuple[shared.TestResult, ...]
    shift_factor: float | None
    top: SurfaceTop | None
    withheld: str | None
    grid: SurfaceGrid
    df: float | None
    df_bays: float | None
    n_units: int
    n_cuttings: int
    unsettled: bool


class ResponseSurface(ResponseSurfaceFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class SurfaceGrid(Numbers):
    """The fitted take on a grid of the tested range."""

    __slots__ = ()

    strength: tuple[float, ...]
    darkness: tuple[float, ...]
    take: tuple[tuple[float, ...], ...]


class SurfaceInput(Numbers):
    """What a surface is fitted to."""

    __slots__ = ()

    strength: shared.Strength | None
    unit: str
    counted: bool
    bays: str | None
    trays: tuple[SurfaceTray, ...]
    notes: tuple[shared.Note, ...]
    options: SurfaceOptions


class SurfaceOptions(Numbers):
    """Options of response_surface."""

    __slots__ = ()

    curve: shared.CurveOptions
    darkness: str


class SurfaceTop(Numbers):
    """The top of the surface over strength and darkness."""

    __slots__ = ()

    strength: float
    darkness: float
    take: float
    region: tuple[tuple[int, int], ...]
    located: bool


class SurfaceTray(Numbers):
    """One tray with its strength, darkness and room."""

    __slots__ = ()

    strength: float
    darkness: float
    bay: int | None
    rooted: int
    stuck: int


class Threshold(Numbers):
    """The lowest strength at which deaths have risen by the wanted size."""

    __slots__ = ()

    value: float | None
    low: float
    high: float
    located: bool
    by_form: bool
    no_room: bool
    from_first: bool
