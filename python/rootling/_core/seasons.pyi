"""Seasons pooled."""

from typing import Any

__all__ = ["best_strength", "pool"]

def best_strength(given: list[tuple[str | None, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """The best strength over seasons."""

def pool(given: list[tuple[str | None, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """One difference over several seasons."""
