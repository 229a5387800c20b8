"""Take rates and intervals."""

from typing import Any

import numpy as np
import numpy.typing as npt

from .trial import Trial

__all__ = [
    "against_target",
    "against_target_many",
    "interval",
    "interval_faces",
    "interval_many",
    "take_rates",
    "tray_correlation",
    "trial_correlation",
]

def interval(rooted: int, stuck: int, method: str, confidence: float, sides: str) -> dict[str, Any]:
    """Interval of one count."""

def interval_many(
    rooted: npt.NDArray[np.int64], stuck: npt.NDArray[np.int64], method: str, confidence: float, sides: str
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Value, lower and upper limits of many counts."""

def interval_faces(method: str, confidence: float, sides: str) -> dict[str, Any]:
    """Notes, methods and references of an interval."""

def against_target(rooted: int, stuck: int, target: float, method: str) -> dict[str, Any]:
    """Test of one count against a target rate."""

def against_target_many(
    rooted: npt.NDArray[np.int64], stuck: npt.NDArray[np.int64], target: npt.NDArray[np.float64], method: str
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """One-sided and two-sided P of many counts."""

def take_rates(trial: Trial, by: list[str], options: dict[str, Any]) -> dict[str, Any]:
    """Take rates of a trial."""

def tray_correlation(
    rooted: npt.NDArray[np.int64],
    stuck: npt.NDArray[np.int64],
    treatment: list[str] | None,
    options: dict[str, Any],
) -> dict[str, Any]:
    """Correlation of two cuttings in one tray, from lists of trays."""

def trial_correlation(trial: Trial, options: dict[str, Any]) -> dict[str, Any]:
    """Correlation of two cuttings in one tray of a trial."""
