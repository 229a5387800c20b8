"""Tables of counts."""

from typing import Any

from .trial import Trial

__all__ = [
    "association",
    "chi_square",
    "fisher",
    "paired",
    "three_way",
    "unconditional",
]

def chi_square(table: list[list[int]]) -> dict[str, Any]:
    """Chi-square family of a table."""

def fisher(table: list[list[int]]) -> dict[str, Any]:
    """Exact test of a 2 x 2 table."""

def unconditional(table: list[list[int]], method: str, level: float) -> dict[str, Any]:
    """Exact test of a 2 x 2 table with group sizes fixed."""

def paired(table: list[list[int]], method: str, level: float) -> dict[str, Any]:
    """Rates within pairs."""

def three_way(table: list[list[list[int]]]) -> dict[str, Any]:
    """No three-factor interaction in a 2 x 2 x 2 table."""

def association(trial: Trial, factor: str, options: dict[str, Any]) -> dict[str, Any]:
    """A treatment against rooting."""
