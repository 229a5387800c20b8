"""Grades of cuttings."""

from typing import Any

__all__ = ["grades", "reached", "reaching"]

def reaching(trial: Any, response: str, at_least: int, of: str) -> Any:
    """The trial whose counts are cuttings that reach a grade."""

def reached(trial: Any) -> dict[str, Any] | None:
    """The grade whose share a trial counts, where it does."""

def grades(trial: Any, treatment: str, options: dict[str, Any]) -> dict[str, Any]:
    """Grades at the levels of a treatment."""
