"""How things are written, for terminal, page, figure and message alike.

``texts``
    what somebody else wrote, without signs that break a line or hide
``numbers``
    each by what it is: rate, difference, P value, strength
``columns``
    names of columns, without twins
``outcomes``
    what was counted: the core's words for it
``effects``
    whether effects were asked about together
``inert``
    texts that no spreadsheet may take for a formula
``shapes``
    which shapes a curve is the average of
``works``
    works cited: whose, of which year, and where a text cites them
``supports``
    the words of methods that each work supports
"""

from rootling._words import numbers, outcomes
from rootling._words.columns import own_names
from rootling._words.effects import interactions_told
from rootling._words.inert import as_it_was, inert
from rootling._words.shapes import shapes_told
from rootling._words.texts import clean, clean_lines, escaped, marked
from rootling._words.works import people_of, with_works

__all__ = [
    "as_it_was",
    "clean",
    "clean_lines",
    "escaped",
    "inert",
    "interactions_told",
    "marked",
    "numbers",
    "outcomes",
    "own_names",
    "people_of",
    "shapes_told",
    "with_works",
]
