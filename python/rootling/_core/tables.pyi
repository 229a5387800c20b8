"""Tables of counts."""

from collections.abc import Callable
from typing import Any

from .trial import Trial

__all__ = [
    "association",
    "chi_square",
    "fisher",
    "freeman_halton",
    "linear_by_linear",
    "paired",
    "stratified",
    "three_way",
    "trend",
    "trial_trend",
    "unconditional",
]

def chi_square(table: list[list[int]]) -> dict[str, Any]:
    """Chi-square family of a table."""

def fisher(table: list[list[int]]) -> dict[str, Any]:
    """Exact test of a 2 x 2 table."""

def freeman_halton(
    table: list[list[int]], options: dict[str, Any], progress: Callable[[int, int], object] | None = None
) -> dict[str, Any]:
    """Exact test of an r x c table."""

def trend(rooted: list[int], stuck: list[int], scores: list[float], options: dict[str, Any]) -> dict[str, Any]:
    """Trend over ordered groups."""

def linear_by_linear(
    table: list[list[int]], row_scores: list[float], column_scores: list[float], options: dict[str, Any]
) -> dict[str, Any]:
    """Two ordered factors."""

def stratified(strata: list[list[list[int]]], options: dict[str, Any]) -> dict[str, Any]:
    """Tables in strata."""

def unconditional(table: list[list[int]], method: str, confidence: float) -> dict[str, Any]:
    """Exact test of a 2 x 2 table with group sizes fixed."""

def paired(table: list[list[int]], method: str, confidence: float) -> dict[str, Any]:
    """Rates within pairs."""

def three_way(table: list[list[list[int]]]) -> dict[str, Any]:
    """No three-factor interaction in a 2 x 2 x 2 table."""

def association(trial: Trial, factor: str, options: dict[str, Any]) -> dict[str, Any]:
    """A treatment against rooting."""

def trial_trend(trial: Trial, factor: str, options: dict[str, Any]) -> dict[str, Any]:
    """The trend of a trial."""
