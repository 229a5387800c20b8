"""Hormone strengths."""

from typing import Any

__all__ = ["check", "convert", "equivalent", "parse", "plausibility"]

def check(strength: dict[str, Any]) -> None:
    """Refuses a strength that cannot be."""

def convert(value: float, strength: dict[str, Any], unit: str) -> float:
    """The same strength in another unit."""

def equivalent(value: float, strength: dict[str, Any], substance: str) -> float:
    """As many molecules of another substance."""

def parse(text: str) -> tuple[float, str]:
    """Number and unit from text."""

def plausibility(value: float, strength: dict[str, Any]) -> dict[str, str] | None:
    """A note when the strength is unusual for its method."""
