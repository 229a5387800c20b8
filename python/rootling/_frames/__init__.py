"""Whatever holds a table, brought to one form.

``frames``
    frames, files and dictionaries as bytes of a csv file or a polars frame of four plain types
``readers``
    other libraries' readers, whose errors become one
``workbook``
    spreadsheet files as rows of text cells
"""

from rootling._frames.frames import Input, read

__all__ = ["Input", "read"]
