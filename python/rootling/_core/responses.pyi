"""Responses of a trial: means, levels compared, and models of means."""

from typing import Any

import numpy as np
import numpy.typing as npt
from rootling._core.trial import Trial

__all__ = ["adjusted_means", "compare", "count_law", "mean_checks", "mean_contrasts", "mean_effects", "mean_letters"]
__all__ += ["means", "predict_means"]

def means(trial: Trial, by: list[str], options: dict[str, Any]) -> dict[str, Any]:
    """Means of a response by the levels of some columns."""

def compare(trial: Trial, factor: str, first: str, second: str, options: dict[str, Any]) -> dict[str, Any]:
    """Two levels of a treatment compared in a response."""

def mean_effects(trial: Trial, spec: dict[str, Any]) -> dict[str, Any]:
    """Tests of the effects of a model of means."""

def adjusted_means(trial: Trial, spec: dict[str, Any], by: str, options: dict[str, Any]) -> dict[str, Any]:
    """Adjusted means of the levels of a treatment."""

def mean_contrasts(trial: Trial, spec: dict[str, Any], by: str, options: dict[str, Any]) -> dict[str, Any]:
    """Adjusted means set against each other."""

def mean_letters(trial: Trial, spec: dict[str, Any], by: str, options: dict[str, Any]) -> dict[str, Any]:
    """Adjusted means with letters."""

def mean_checks(trial: Trial, spec: dict[str, Any]) -> dict[str, Any]:
    """What a model of means leaves over."""

def predict_means(trial: Trial, spec: dict[str, Any], rows: list[list[str]]) -> dict[str, Any]:
    """Means expected of rows of levels."""

def count_law(
    counts: npt.NDArray[np.int64],
    groups: tuple[npt.NDArray[np.uint32], list[str]],
    columns: list[tuple[str, tuple[str, str] | None, npt.NDArray[np.float64]]],
    offset: npt.NDArray[np.float64] | None,
    options: dict[str, Any],
) -> dict[str, Any]:
    """The law of plain counts by group."""
