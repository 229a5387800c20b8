"""Tables and lists of numbers as a notebook has them: nested lists, arrays, frames and series of any library."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rootling._given.values import shortened
from rootling.exceptions import CountError

# The largest count that the core holds exactly.
LARGEST = 2**53


def is_frame(given: Any) -> bool:
    """True for a frame: something with columns, of polars, pandas, Arrow or the like."""
    return hasattr(given, "columns") and (hasattr(given, "dtypes") or hasattr(given, "schema"))


def rows_of(table: Any) -> Any:
    """The rows of a table, whatever holds it; a frame is read by rows, as it is shown.

    >>> import polars as pl
    >>> rows_of(pl.DataFrame({"rooted": [8, 1], "failed": [2, 5]}))
    [[8, 2], [1, 5]]
    """
    if isinstance(table, (str, bytes)):
        raise CountError(
            f"{shortened(table)} is text, not a table; give rows of counts, for example [[156, 84], [84, 156]]"
        )
    if isinstance(table, Mapping):
        raise CountError(
            "a dictionary holds columns, and a table is read by rows; give rows of counts, for example "
            "[[156, 84], [84, 156]]"
        )
    if is_frame(table):
        return _frame_rows(table)
    plain = table.tolist() if hasattr(table, "tolist") else table
    try:
        return [list_of(row) for row in plain]
    except TypeError:
        return plain


def _frame_rows(frame: Any) -> list[list[Any]]:
    if not hasattr(frame, "iter_rows") and not hasattr(frame, "to_numpy"):
        import polars as pl

        frame = pl.from_arrow(frame)
    columns = [list_of(frame[name]) for name in _names(frame)]
    for name, column in zip(_names(frame), columns, strict=True):
        for value in column:
            if value is None or isinstance(value, (str, bytes, bool)):
                raise CountError(
                    f"column {name!r} holds {value!r}, which is no count; leave out columns that are not counts, "
                    'for example frame[["rooted", "failed"]]'
                )
    return [list(row) for row in zip(*columns, strict=True)]


def _names(frame: Any) -> list[Any]:
    names = frame.column_names if hasattr(frame, "column_names") else frame.columns
    return list(names)


def list_of(given: Any) -> Any:
    """A series, array or list as a plain list; a frame of one column as that column, any other is refused.

    >>> import polars as pl
    >>> list_of(pl.Series([1, 2]))
    [1, 2]
    """
    if is_frame(given):
        names = _names(given)
        if len(names) != 1:
            raise CountError(
                f"a frame of {len(names)} columns is no list of numbers; name one of them, for example "
                f"frame[{names[0] if names else 'rooted'!r}]"
            )
        given = given[names[0]]
    for way in ("to_list", "tolist", "to_pylist"):
        if hasattr(given, way):
            return getattr(given, way)()
    return list(given)


def layers_of(tables: Any) -> Any:
    """A list of tables; one frame is a single table and is refused where several are needed."""
    if is_frame(tables) or isinstance(tables, (str, bytes, Mapping)):
        raise CountError(
            "one table is given where a list of tables is needed, for example [[[156, 84], [84, 156]], [[107, 133], "
            "[31, 209]]]"
        )
    return tables.tolist() if hasattr(tables, "tolist") else tables


def whole_table(table: Any) -> list[list[int]]:
    """Rows of whole numbers; anything else is refused."""
    rows = rows_of(table)
    try:
        whole = [[int(entry) for entry in row] for row in rows]
        same = all(a == b for row, given in zip(whole, rows, strict=True) for a, b in zip(row, given, strict=True))
    except (TypeError, ValueError, OverflowError):
        same = False
    if not same or any(entry < 0 for row in whole for entry in row):
        raise CountError("a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]")
    for entry in (entry for row in whole for entry in row):
        if entry > LARGEST:
            raise CountError(f"count {entry} is above {LARGEST}, the largest that is held exactly; check the entry")
    return whole


def whole_array(given: Any) -> Any:
    """Counts as a whole-number array; anything else is refused.

    >>> whole_array([81.0, 56.0]).tolist()
    [81, 56]
    """
    import numpy as np
    import polars as pl

    given = list_of(given) if is_frame(given) else given
    try:
        plain = np.asarray(given)
        with np.errstate(invalid="ignore"):
            whole = plain.astype(np.int64, copy=False)
        same = plain.dtype == np.int64 or (plain.dtype.kind in "iuf" and bool(np.all(whole == plain)))
    except (TypeError, ValueError, OverflowError, pl.exceptions.PolarsError):
        same = False
    if not same:
        raise CountError("counts must be whole numbers of cuttings, for example 81 or [81, 56]")
    return whole
