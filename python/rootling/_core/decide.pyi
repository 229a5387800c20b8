"""A choice in money."""

from typing import Any

from rootling._core.trial import Trial

__all__ = ["choose"]

def choose(trial: Trial, treatment: str, options: dict[str, Any]) -> dict[str, Any]:
    """The levels of a treatment weighed by costs and prices."""
