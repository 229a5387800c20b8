"""Days as callers give them, counted as the core counts them."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from rootling import _core
from rootling._given.values import plain, shortened
from rootling.exceptions import ChoiceError

__all__ = ["day"]


def day(option: str, value: Any) -> int | None:
    """Days since 1970 of a date, or of a text with the year first; None stays None."""
    value = plain(value)
    if value is None:
        return None
    if isinstance(value, (date, datetime)):
        value = value.isoformat()[:10]
    found = _core.watch.day_of(value) if isinstance(value, str) else None
    if found is None:
        raise ChoiceError(f'{option}={shortened(value)} is no day; write {option}="2026-03-31"')
    return int(found)
