"""Laying out a trial."""

from typing import Any

__all__ = ["check", "layout", "seal", "tray_code"]

def layout(options: dict[str, Any]) -> dict[str, Any]:
    """A plan."""

def check(numbers: dict[str, Any]) -> None:
    """Refuses the record of a plan that was changed."""

def tray_code(written: str) -> str | None:
    """A code as it is meant; None where its check letter does not fit."""

def seal(plan: str, tray: str, entries: list[str]) -> str:
    """The letters that go with a line of the key."""
