"""One difference over seasons as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class BestOut(Numbers):
    """A season that cannot enter."""

    __slots__ = ()

    season: str
    value: float
    why: str


class BestOverSeasonsFields:
    """The best strength over several seasons."""

    __slots__ = ()

    factor: str
    unit: str
    substance: str | None
    outcome: choices.Outcome
    seasons: tuple[SeasonBest, ...]
    left_out: tuple[BestOut, ...]
    n_seasons: int
    n_units: int
    n_cuttings: int
    zero_scale: float
    value: float
    low: float
    high: float
    df: float
    these_alone: bool
    provisional: bool
    new_low: float | None
    new_high: float | None
    tested: tuple[float, float]
    spread: float | None
    spread_low: float | None
    spread_high: float | None
    usual: tuple[float, float] | None
    changes: SeasonChanges
    confidence: float


class BestOverSeasons(BestOverSeasonsFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class PooledFields:
    """One difference over several seasons, the second level minus the first."""

    __slots__ = ()

    factor: str
    first: str
    second: str
    outcome: choices.Outcome
    seasons: tuple[SeasonDifference, ...]
    left_out: tuple[SeasonLeftOut, ...]
    n_seasons: int
    n_units: int
    n_cuttings: int
    unit: str
    value: float
    low: float
    high: float
    se: float
    df: float
    these_alone: bool
    provisional: bool
    new_low: float | None
    new_high: float | None
    spread: float | None
    spread_low: float | None
    spread_high: float | None
    seasons_needed: int | None
    changes: SeasonChanges
    confidence: float
    nearly: float


class Pooled(PooledFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class SeasonBest(Numbers):
    """A season's best strength."""

    __slots__ = ()

    season: str
    value: float
    low: float
    high: float
    one_sided: bool
    se: float
    df: float | None
    take: float
    n_units: int
    n_cuttings: int
    weight: float
    without: float | None
    data_fingerprint: str | None


class SeasonChanges(Numbers):
    """The test of treatment x season."""

    __slots__ = ()

    statistic: float
    df: float
    error_df: float
    p: float


class SeasonDifference(Numbers):
    """A season in the pool."""

    __slots__ = ()

    season: str
    value: float
    low: float
    high: float
    se: float
    df: float
    n_units: int
    n_cuttings: int
    weight: float
    without: WithoutSeason | None
    p: float | None
    p_adjusted: float | None
    data_fingerprint: str | None


class SeasonLeftOut(Numbers):
    """A season that cannot enter."""

    __slots__ = ()

    season: str
    value: float
    why: str


class WithoutSeason(Numbers):
    """The average without one season."""

    __slots__ = ()

    value: float
    low: float
    high: float
    spread: float | None
