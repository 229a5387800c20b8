"""Texts of others as they may be shown: no sign that breaks a line, hides or becomes markup."""

from __future__ import annotations

import unicodedata
from typing import Any


def clean(value: str) -> str:
    """Line breaks, control and invisible characters would break a table or a figure, or hide: they become marks.

    >>> clean("K12" + chr(7) + chr(0x200B))
    'K12<U+0007><U+200B>'
    """
    return value if value.isprintable() else "".join(map(_visible, value))


def _visible(letter: str) -> str:
    kind = unicodedata.category(letter)
    return f"<U+{ord(letter):04X}>" if kind in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else letter


def clean_lines(value: Any) -> Any:
    """The same for text of several lines; anything else, and what is markup already, stays as it is."""
    return "\n".join(map(clean, value.split("\n"))) if type(value) is str else value


def marked(value: str) -> str:
    """A text for a page, its control signs as marks."""
    return escaped(clean(value))


def escaped(value: str) -> str:
    """A text for a page, as it is."""
    # Loaded late: its list of entities takes longer than a room.
    from html import escape

    return escape(value)
