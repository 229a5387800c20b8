"""Means of responses, and two of them compared, as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices, shared


class PartDifference(Numbers):
    """A part of a difference: takes, or means of those that rooted."""

    __slots__ = ()

    first: float
    second: float
    value: float
    low: float | None
    high: float | None
    p: float | None


class RatioOfMeans(Numbers):
    """The second mean over the first."""

    __slots__ = ()

    value: float
    low: float | None
    high: float | None


class Response(Numbers):
    """A declared response."""

    __slots__ = ()

    column: str
    kind: choices.ResponseKind
    unit: choices.ResponseUnit | None
    lowest: int | None
    highest: int | None
    means_of: str | None


class ResponseComparisonFields:
    """Two levels of a treatment compared in a response."""

    __slots__ = ()

    response: Response
    mean_of: choices.MeanOf
    factor: str
    first: ResponseMean
    second: ResponseMean
    value: float
    low: float | None
    high: float | None
    confidence: float
    statistic: float | None
    df: float | None
    p: float | None
    ratio: RatioOfMeans | None
    take: PartDifference | None
    of_rooted: PartDifference | None
    randomisation: shared.Randomisation | None
    within: tuple[str, ...]
    carried: shared.Carried
    unit: str
    withheld: str | None
    primary: bool
    n_left_out: int


class ResponseComparison(ResponseComparisonFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class ResponseMean(Numbers):
    """The mean of one combination of levels, and the two parts behind it."""

    __slots__ = ()

    levels: tuple[str, ...]
    value: float | None
    low: float | None
    high: float | None
    df: float | None
    take: float
    of_rooted: float | None
    of_rooted_low: float | None
    of_rooted_high: float | None
    n_units: int
    n_cuttings: int
    n_rooted: int
    n_measured: int


class ResponseMeansFields:
    """Means of a response."""

    __slots__ = ()

    response: Response
    mean_of: choices.MeanOf
    by: tuple[str, ...]
    confidence: float
    unit: str
    means: tuple[ResponseMean, ...]
    primary: bool
    n_left_out: int


class ResponseMeans(ResponseMeansFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()
