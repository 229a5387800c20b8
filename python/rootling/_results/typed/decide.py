"""A choice in money as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class BreakEven(Numbers):
    """A price or a cost at which the choice turns."""

    __slots__ = ()

    what: choices.TurnsOn
    level: str | None
    at: float
    above: bool
    chosen: str
    instead: str


class ChoiceAt(Numbers):
    """The choice where something is another."""

    __slots__ = ()

    what: choices.TurnsOn
    at: float
    best: str
    value: float
    changes: bool


class Compared(Numbers):
    """The best and its runner-up as they are compared."""

    __slots__ = ()

    value: float
    low: float
    high: float


class LevelChoiceFields:
    """What each level of a treatment brings in money, and which to choose."""

    __slots__ = ()

    factor: str
    levels: tuple[LevelGain, ...]
    best: str
    runner_up: str
    value: float
    low: float
    high: float
    chance_best: float
    perfect_knowledge: float
    next_trial: NextTrialWorth | None
    break_even: tuple[BreakEven, ...]
    sensitivity: tuple[ChoiceAt, ...]
    compared: Compared | None
    withheld: str | None
    price: float
    saleable: float
    cuttings_a_season: float
    seasons: int
    season_sd: float | None
    money: str | None
    correlation: float
    df: float | None
    unit: str
    confidence: float
    draws: int


class LevelChoice(LevelChoiceFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class LevelGain(Numbers):
    """What a level brings."""

    __slots__ = ()

    level: str
    take: float
    take_expected: float
    rooted: int
    stuck: int
    n_units: int
    cost: float
    trees: float
    value: float
    low: float
    high: float
    chance_best: float
    behind: float
    behind_low: float | None
    behind_high: float | None
    loss: float


class NextTrialWorth(Numbers):
    """What the next trial is worth."""

    __slots__ = ()

    trays: int
    cuttings: int
    cost: float
    seasons_left: int
    value: float
    value_error: float
    net: float
    chance_other: float
    pays: bool
