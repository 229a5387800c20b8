"""The chain of steps, readers and early signs."""

from typing import Any

__all__ = ["agreement", "early_sign", "yield_change"]

def yield_change(before: list[tuple[str, float]], after: list[tuple[str, float]]) -> dict[str, Any]:
    """A change of the overall yield, step by step."""

def agreement(trays: list[list[list[int]]], options: dict[str, Any]) -> dict[str, Any]:
    """What two readers agree on."""

def early_sign(trays: list[list[int]], options: dict[str, Any]) -> dict[str, Any]:
    """What an early sign of rooting tells."""
