"""What a caller gives: values, names, levels and tables, in whatever a notebook holds them.

``choices``
    the values that options accept, for type checkers
``values``
    one value: is it a name, how does a message show it
``names``
    names of columns and numbers of rows; a name that is not known, and the nearest that is
``days``
    days, counted as the core counts them
``levels``
    levels and lists of names as the core spells them
``tables``
    tables and lists of numbers, from arrays and frames of any library
"""

from rootling._given import choices
from rootling._given.days import day
from rootling._given.levels import listed, spelled
from rootling._given.names import check_known, checked_progress, column_names, nearest, one_column, row_numbers
from rootling._given.tables import is_frame, layers_of, list_of, rows_of, whole_array, whole_table
from rootling._given.values import (
    LONGEST,
    LONGEST_NAME,
    UNREAD,
    has_columns,
    has_half_letters,
    is_name,
    plain,
    shortened,
)

__all__ = ["LONGEST", "LONGEST_NAME", "UNREAD", "check_known", "choices", "has_columns", "has_half_letters", "is_frame"]
__all__ += [
    "checked_progress",
    "column_names",
    "day",
    "is_name",
    "layers_of",
    "list_of",
    "listed",
    "nearest",
    "one_column",
    "plain",
    "row_numbers",
    "rows_of",
]
__all__ += ["shortened", "spelled", "whole_array", "whole_table"]
