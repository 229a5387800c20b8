"""How things are written, for terminal, page, figure and message alike.

``texts``
    what somebody else wrote, without signs that break a line or hide
``numbers``
    rates, differences, P values, strengths
``columns``
    names of columns, and their heads
``outcomes``
    what was counted: the core's words for it
"""

from rootling._words import numbers, outcomes
from rootling._words.columns import heading, own_names
from rootling._words.texts import clean, clean_lines, escaped, marked

__all__ = ["clean", "clean_lines", "escaped", "heading", "marked", "numbers", "outcomes", "own_names"]
