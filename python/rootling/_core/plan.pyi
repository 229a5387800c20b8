"""Planning trials."""

from collections.abc import Callable
from typing import Any

import numpy as np
from rootling._core.trial import Trial

_Progress = Callable[[int, int], object] | None

__all__ = [
    "best_strength",
    "chance_at_end",
    "draw_counts",
    "draw_trial",
    "looks",
    "p_values",
    "power",
    "precision",
    "smallest_difference",
    "trays_needed",
]

def power(options: dict[str, Any], progress: _Progress = None) -> dict[str, Any]:
    """The share of trials that show what is there."""

def precision(options: dict[str, Any], progress: _Progress = None) -> dict[str, Any]:
    """Half the width of the interval."""

def trays_needed(options: dict[str, Any], progress: _Progress = None) -> dict[str, Any]:
    """The fewest trays."""

def smallest_difference(
    options: dict[str, Any], progress: Callable[[int, int], object] | None = None
) -> dict[str, Any]:
    """The smallest differences that are shown."""

def looks(options: dict[str, Any], progress: _Progress = None) -> dict[str, Any]:
    """P levels of a trial that may end early."""

def best_strength(options: dict[str, Any], progress: _Progress = None) -> dict[str, Any]:
    """How well a trial finds the best strength."""

def chance_at_end(
    trial: Trial,
    treatment: str,
    levels: tuple[str, str],
    options: dict[str, Any],
    progress: _Progress = None,
) -> dict[str, Any]:
    """The chance that a trial under way ends with a difference shown."""

def p_values(options: dict[str, Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """The leading P value of every drawn trial."""

def draw_counts(trays: dict[str, Any], seed: int, replicate: int) -> list[int]:
    """Invented counts for the trays of a layout."""

def draw_trial(options: dict[str, Any], replicate: int) -> tuple[list[int], list[int], list[int], list[int]]:
    """Level, block, rooted and stuck of every tray of a drawn trial."""
