"""Strength curves."""

from typing import Any

from .trial import Trial

__all__ = ["damage_threshold", "differences", "next_strengths", "response_surface", "strength_curve", "strengths_for"]

def strength_curve(trial: Trial, options: dict[str, Any]) -> dict[str, Any]:
    """The strength curves of a trial."""

def damage_threshold(trial: Trial, options: dict[str, Any]) -> dict[str, Any]:
    """Where deaths begin to rise."""

def response_surface(trial: Trial, options: dict[str, Any]) -> dict[str, Any]:
    """Strength and darkness together."""

def next_strengths(input: dict[str, Any], fingerprint: str | None, options: dict[str, Any]) -> dict[str, Any]:
    """The strengths to test next, from what a curve was made from."""

def strengths_for(input: dict[str, Any], fingerprint: str | None, take: float) -> dict[str, Any]:
    """The strengths for a take, from what a curve was made from."""

def differences(input: dict[str, Any], fingerprint: str | None) -> dict[str, Any]:
    """Curves compared, from what they were made from."""
