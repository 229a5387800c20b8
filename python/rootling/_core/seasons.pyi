"""Seasons pooled."""

from typing import Any

__all__ = ["pool", "pool_curves"]

def pool_curves(given: list[tuple[str | None, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """The best strength over seasons."""

def pool(given: list[tuple[str | None, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """One difference over several seasons."""
