"""Whatever holds a table, brought to one form.

``engines``
    tables that an engine holds: lazy frames, relations, queries, tables of a cluster
``frames``
    frames, files and dictionaries as bytes of a csv file or a polars frame of four plain types
``counting``, ``lines``
    rows counted by their engine, and what is wrong with a line told of the rows behind it
``readers``
    other libraries' readers, whose errors become one
``workbook``
    spreadsheet files as rows of text cells
"""

from rootling._frames.counting import PARTS, Counted, counted
from rootling._frames.engines import Engine, Progress, Which, engine_of
from rootling._frames.frames import Input, nothing_of, read
from rootling._frames.lines import Lines, is_answer, record_labels, told_by_rows

__all__ = ["Counted", "Engine", "Input", "Lines", "Which", "counted", "engine_of", "nothing_of", "read"]
__all__ += ["PARTS", "Progress", "is_answer", "record_labels", "told_by_rows"]
