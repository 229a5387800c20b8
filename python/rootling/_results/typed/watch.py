"""What a watched crop answers as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class AgainstTargetFields:
    """How far a rate lies from a target as more and more of what varies is heeded."""

    __slots__ = ()

    value: float
    target: float
    last_season: float | None
    started: int
    alive: int
    n_batches: int
    z_of_plants: float
    z_of_batches: float
    z_of_weeks: float
    z_of_seasons: float | None
    n_seasons: int
    se: float
    df: float
    low: float | None
    high: float | None
    p: float
    season_unknown: bool


class AgainstTarget(AgainstTargetFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Baseline(Numbers):
    """What a crop is expected to do, frozen."""

    __slots__ = ()

    groupings: tuple[Grouping, ...]
    columns: Columns
    shares: tuple[float, ...]
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    spreads: Spreads
    season_spread: float | None
    season_within: float | None
    days: tuple[int, int]
    n_batches: int
    n_weeks: int
    n_clusters: int
    n_seasons: int
    counts: tuple[int, int]
    inseparable: tuple[tuple[str, str], ...]
    fingerprint: str
    converged: bool
    reading_age: int | None
    least_correlation: float
    striking: str | None
    steps: tuple[tuple[str, Baseline], ...]


class BaselineNumbersFields:
    """A baseline as a result."""

    __slots__ = ()

    baseline: Baseline
    value: float


class BaselineNumbers(BaselineNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class BatchNumbersFields:
    """Batches beside what was expected of them."""

    __slots__ = ()

    batches: tuple[BatchSeen, ...]
    one_in: float
    weight: float


class BatchNumbers(BatchNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class BatchSeen(Numbers):
    """One batch beside what was expected of it."""

    __slots__ = ()

    batch: str
    read: int
    started: int
    alive: int
    expected: float | None
    lower_limit: int | None
    below: bool
    average: float
    average_limit: float
    lost: float


class Change(Numbers):
    """When, where and how much."""

    __slots__ = ()

    p: float
    signal: int | None
    draws: int
    place: tuple[str, str] | None
    monday: int
    weeks: tuple[int, int]
    from_the_start: bool
    n_weeks: int
    confidence: float
    cut_off: float
    size: float
    low: float
    high: float
    size_from_later_batches: bool
    season_p: float | None
    season_open: bool
    form: choices.Form
    goes_with: choices.GoesWith
    places: tuple[PlaceChange, ...]
    steps: tuple[StepChange, ...]


class Chart(Numbers):
    """One chart."""

    __slots__ = ()

    grouping: str | None
    level: str | None
    weeks: tuple[ChartWeek, ...]


class ChartWeek(Numbers):
    """One week of a chart."""

    __slots__ = ()

    monday: int
    n_batches: int
    started: int
    alive: int
    expected: float
    sum: float
    limit: float
    signal: bool


class Columns(Numbers):
    """The columns of a baseline: which levels it knows, and whether it has a wave."""

    __slots__ = ()

    places: tuple[tuple[int | None, ...], ...]
    wave: int | None
    count: int


class Grouping(Numbers):
    """A column whose entries are levels."""

    __slots__ = ()

    name: str
    part: choices.Part
    levels: tuple[str, ...]


class MixChangeFields:
    """The parts of a raw difference, as differences of rates; they add up."""

    __slots__ = ()

    before: float
    after: float
    value: float
    rates: float
    rates_se: float | None
    low: float | None
    high: float | None
    df: float | None
    mix: tuple[MixPart, ...]
    without_partner: float
    overlap: float
    n_batches: tuple[int, int]
    confidence: float


class MixChange(MixChangeFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class MixPart(Numbers):
    """What the mix of one column adds."""

    __slots__ = ()

    grouping: str
    value: float


class PlaceBeside(Numbers):
    """One unit beside the others."""

    __slots__ = ()

    level: str
    n_batches: int
    started: int
    alive: int
    value: float
    expected: float
    low: float | None
    high: float | None
    spread: float | None
    statistic: float | None
    df: float
    p: float | None
    p_adjusted: float | None


class PlaceChange(Numbers):
    """One level against the others, from the likely week on."""

    __slots__ = ()

    grouping: str
    level: str
    n_batches: int
    change: float
    beside_others: float
    p: float
    stands_out: bool
    not_apart_from: tuple[tuple[str, str], ...]


class PlaceNumbersFields:
    """Units side by side."""

    __slots__ = ()

    column: str
    places: tuple[PlaceBeside, ...]
    confidence: float


class PlaceNumbers(PlaceNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Quiet(Numbers):
    """What would have been seen."""

    __slots__ = ()

    since: int
    n_weeks: int
    drop: float | None
    sure: float


class Signal(Numbers):
    """One signal."""

    __slots__ = ()

    monday: int
    chart: int
    grouping: str | None
    level: str | None
    sum: float
    limit: float


class SignalNumbersFields:
    """Charts, signals and what follows from them."""

    __slots__ = ()

    charts: tuple[Chart, ...]
    signals: tuple[Signal, ...]
    drop: float
    usual: float
    odds_ratio: float
    weeks_between: float
    without_expectation: tuple[str, ...]
    change: Change | None
    quiet: Quiet | None
    until: int | None
    reading_age: int | None


class SignalNumbers(SignalNumbersFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class Spreads(Numbers):
    """What varies beside the counts themselves."""

    __slots__ = ()

    batch: float
    week_in_place: float
    week: float


class StepChange(Numbers):
    """One step of the chain, in the batches that have the drop."""

    __slots__ = ()

    step: str
    n_batches: int
    change: float
    z: float
    p: float
