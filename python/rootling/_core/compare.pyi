"""Two groups compared."""

from collections.abc import Callable
from typing import Any

from .trial import Trial

__all__ = [
    "adjusted_p",
    "all_levels",
    "difference",
    "equivalence",
    "likelihood_ratio_test",
    "odds_ratio",
    "randomisation",
    "ratio",
    "score_test",
    "strengths",
]

def difference(counts: tuple[int, int, int, int], method: str, confidence: float) -> dict[str, Any]:
    """Second rate minus first, with its interval."""

def ratio(counts: tuple[int, int, int, int], method: str, confidence: float) -> dict[str, Any]:
    """Second rate over first, with its interval."""

def odds_ratio(counts: tuple[int, int, int, int], method: str, confidence: float) -> dict[str, Any]:
    """Second odds over first, with their interval."""

def score_test(counts: tuple[int, int, int, int]) -> dict[str, Any]:
    """Score test of equal rates."""

def likelihood_ratio_test(counts: tuple[int, int, int, int]) -> dict[str, Any]:
    """Likelihood-ratio test of equal rates."""

def equivalence(
    counts: tuple[int, int, int, int], margin: float, claim: str, method: str, confidence: float
) -> dict[str, Any]:
    """Two rates against a margin."""

def strengths(
    trial: Trial,
    factor: str,
    first: str,
    second: str,
    options: dict[str, Any],
    progress: Callable[[int, int], object] | None = None,
) -> dict[str, Any]:
    """Two levels of a treatment compared."""

def all_levels(
    trial: Trial, factor: str, options: dict[str, Any], progress: Callable[[int, int], object] | None = None
) -> dict[str, Any]:
    """All levels of a treatment compared."""

def randomisation(
    first: list[float],
    second: list[float],
    options: dict[str, Any],
    progress: Callable[[int, int], object] | None = None,
) -> dict[str, Any]:
    """Two lists of tray rates compared by re-dealing them."""

def adjusted_p(p_values: list[float], method: str) -> list[float]:
    """P values adjusted for their number."""
