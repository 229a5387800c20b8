"""Responses of a trial: means, and levels compared."""

from typing import Any

from rootling._core.trial import Trial

__all__ = ["compare", "means"]

def means(trial: Trial, by: list[str], options: dict[str, Any]) -> dict[str, Any]:
    """Means of a response by the levels of some columns."""

def compare(trial: Trial, factor: str, first: str, second: str, options: dict[str, Any]) -> dict[str, Any]:
    """Two levels of a treatment compared in a response."""
