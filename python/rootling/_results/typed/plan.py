"""What a planned trial comes to as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class CurveLayout(Numbers):
    """How one layout of the trays does."""

    __slots__ = ()

    layout: str
    strengths: tuple[StrengthTrays, ...]
    located: float
    error: float
    ratio: float | None
    low: float | None
    high: float | None
    lost: float


class CurvePlanFields:
    """A trial that is to find the best strength."""

    __slots__ = ()

    best: float
    best_take: float
    unit: str
    trays: int
    cuttings: int
    correlation: float
    layouts: tuple[CurveLayout, ...]
    draws: int


class CurvePlan(CurvePlanFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class EndChance(Numbers):
    """The chance under one assumption about the trays to come."""

    __slots__ = ()

    assumed: str
    first: float
    second: float
    chance: float
    error: float


class EndChancesFields:
    """A trial under way."""

    __slots__ = ()

    factor: str
    levels: tuple[str, str]
    read: tuple[int, int]
    trays: int
    value: float
    correlation: float
    p_level: float
    rows: tuple[EndChance, ...]
    draws: int


class EndChances(EndChancesFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class LookRow(Numbers):
    """One look."""

    __slots__ = ()

    look: int
    trays: int
    p_level: float
    ended: float
    alarms: float


class LooksFields:
    """A trial with looks."""

    __slots__ = ()

    boundary: choices.Boundary
    takes: tuple[float, ...]
    cuttings: int
    correlation: float
    confidence: float
    rows: tuple[LookRow, ...]
    constant: float
    power: float
    power_without: float
    mean_trays: float
    naive: float
    naive_each_tray: float
    draws: int


class Looks(LooksFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MoreCuttings(Numbers):
    """The same trays with far more cuttings in each: what more cuttings can do at all."""

    __slots__ = ()

    cuttings: int
    power: float


class PairPower(Numbers):
    """How often one pair of levels is told apart."""

    __slots__ = ()

    first: str
    second: str
    expected: float
    power: float


class PlanRow(Numbers):
    """One design tried: so many trays of so many cuttings that are so much alike."""

    __slots__ = ()

    trays: int
    bays: int
    cuttings: int
    correlation: float
    power: float
    error: float
    expected_power: float | None
    all_shown: float | None
    confirmed: float | None
    smallest_p: float | None
    half_width: float | None
    half_width_90: float | None
    n_cuttings: int
    n_trays: int
    cost: float | None
    reached: bool


class PlannedFields:
    """The trials tried for one question."""

    __slots__ = ()

    question: choices.Question
    takes: tuple[float, ...]
    confidence: float
    asked_power: float | None
    lead: int
    rows: tuple[PlanRow, ...]
    pairs: tuple[PairPower, ...]
    more_cuttings: MoreCuttings | None
    draws: int
    n_earlier: int


class Planned(PlannedFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class SmallestFields:
    """The smallest differences from one take."""

    __slots__ = ()

    take: float
    asked_power: float
    confidence: float
    lead: int
    rows: tuple[SmallestRow, ...]
    draws: int


class Smallest(SmallestFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class SmallestRow(Numbers):
    """The smallest difference that a design shows."""

    __slots__ = ()

    trays: int
    cuttings: int
    correlation: float
    rise: float | None
    fall: float | None


class StrengthTrays(Numbers):
    """Trays at one strength."""

    __slots__ = ()

    strength: float
    trays: int
    take: float
