"""Laying out a trial."""

from collections.abc import Callable
from typing import Any

__all__ = ["check", "dealt_anew", "layout", "seal", "tray_code"]

def layout(options: dict[str, Any]) -> dict[str, Any]:
    """A plan."""

def check(numbers: dict[str, Any]) -> None:
    """Refuses the record of a plan that was changed."""

def dealt_anew(
    numbers: dict[str, Any],
    rates: dict[str, float],
    options: dict[str, Any],
    progress: Callable[[int, int], object] | None = None,
) -> dict[str, Any]:
    """A difference among those of other layouts of the set."""

def tray_code(written: str) -> str | None:
    """A code as it is meant; None where its check letter does not fit."""

def seal(plan: str, tray: str, entries: list[str]) -> str:
    """The letters that go with a line of the key."""
