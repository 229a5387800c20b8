"""Levels and names as the core spells them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def spelled(value: Any) -> str:
    """A level as the core spells it: 2500.0 is 2500, True is true; an entry of an array is its plain value."""
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def listed(names: str | Sequence[str] | None) -> list[str]:
    """One name or several as a list."""
    plain: Any = names
    plain = plain.tolist() if hasattr(plain, "tolist") else plain
    return [] if plain is None else [plain] if isinstance(plain, str) else list(plain)
