"""Texts that no spreadsheet may take for a formula: they go out inert and come back as they were.

A text that begins with one of ``= + - @`` gets an apostrophe before it, which spreadsheets read as "this is text"; so
does one that already has such apostrophes, so that each comes back from exactly one.
"""

from __future__ import annotations

FORMULAS = ("=", "+", "-", "@", "\t", "\r")


def inert(text: str) -> str:
    """A text for a csv file.

    >>> inert("=K12"), inert("K12"), inert("'=K12")
    ("'=K12", 'K12', "''=K12")
    """
    return f"'{text}" if text.lstrip("'").startswith(FORMULAS) else text


def as_it_was(text: str) -> str:
    """The text that went out so.

    >>> [as_it_was(inert(text)) for text in ("=1+1", "-5", "'=x", "''", "K12")]
    ['=1+1', '-5', "'=x", "''", 'K12']
    """
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(FORMULAS) else text
