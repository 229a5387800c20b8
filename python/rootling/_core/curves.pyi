"""Strength curves."""

from collections.abc import Callable
from typing import Any, final

from .trial import Trial

__all__ = ["Curves", "damage_threshold", "response_surface", "restore", "strength_curve"]

@final
class Curves:
    """The fitted curves of a trial."""

    def strengths_for(self, take: float) -> dict[str, Any]:
        """The strengths for a take."""

    def next_strengths(self, options: dict[str, Any]) -> dict[str, Any]:
        """The strengths to test next."""

    def differences(self) -> dict[str, Any]:
        """The curves compared."""

def strength_curve(
    trial: Trial, options: dict[str, Any], progress: Callable[[int, int], object] | None = None
) -> tuple[Curves, dict[str, Any]]:
    """The strength curves of a trial, and what they answer at once."""

def restore(input: dict[str, Any], fingerprint: str | None) -> Curves:
    """The curves of a record, fitted again to what it keeps."""

def damage_threshold(trial: Trial, options: dict[str, Any]) -> dict[str, Any]:
    """Where deaths begin to rise."""

def response_surface(
    trial: Trial, options: dict[str, Any], progress: Callable[[int, int], object] | None = None
) -> dict[str, Any]:
    """Strength and darkness together."""
