"""Responses of a trial: means, and levels compared."""

from typing import Any

import numpy as np
import numpy.typing as npt
from rootling._core.trial import Trial

__all__ = ["compare", "count_law", "means"]

def means(trial: Trial, by: list[str], options: dict[str, Any]) -> dict[str, Any]:
    """Means of a response by the levels of some columns."""

def compare(trial: Trial, factor: str, first: str, second: str, options: dict[str, Any]) -> dict[str, Any]:
    """Two levels of a treatment compared in a response."""

def count_law(
    counts: npt.NDArray[np.int64],
    groups: tuple[npt.NDArray[np.uint32], list[str]],
    columns: list[tuple[str, tuple[str, str] | None, npt.NDArray[np.float64]]],
    offset: npt.NDArray[np.float64] | None,
    options: dict[str, Any],
) -> dict[str, Any]:
    """The law of plain counts by group."""
