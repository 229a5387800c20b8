"""Seasons pooled."""

from typing import Any

__all__ = ["pool"]

def pool(given: list[tuple[str | None, Any]], options: dict[str, Any]) -> dict[str, Any]:
    """One difference over several seasons."""
