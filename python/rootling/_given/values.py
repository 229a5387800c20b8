"""A value that somebody gave: what it is, and how a message shows it."""

from __future__ import annotations

from typing import Any

# How the core says that an option has a type of another kind.
UNREAD = "an option was not understood"
LONGEST = 60
LONGEST_NAME = 1000


def plain(value: Any) -> Any:
    """An array without dimensions, or an entry of one, as its value."""
    return value.item() if hasattr(value, "item") and getattr(value, "ndim", None) == 0 else value


def shortened(value: Any) -> str:
    """A value for a message, cut where it is long."""
    try:
        shown = repr(value)
    except Exception:
        shown = f"a {type(value).__name__}"
    if "\n" in shown:
        return f"a {type(value).__name__} of {len(value)}" if hasattr(value, "__len__") else f"a {type(value).__name__}"
    return shown if len(shown) <= LONGEST else f"{shown[:LONGEST]}..."


def has_columns(value: Any) -> bool:
    """True for a frame; its columns are not asked for, which a lazy frame would have to work out.

    >>> has_columns({"strength": [0]})
    False
    """
    return hasattr(type(value), "columns")


def is_name(value: Any) -> bool:
    """True for what a column, a level or a method can be called."""
    return isinstance(value, str) and 0 < len(value) <= LONGEST_NAME and not has_half_letters(value)


def has_half_letters(text: str) -> bool:
    """True where halves of letters stand alone, as nothing but Python can hold them.

    >>> has_half_letters("K" + chr(0xD800)), has_half_letters("K12")
    (True, False)
    """
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return True
    return False
