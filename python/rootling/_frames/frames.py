"""Whatever holds a table, brought to one form: the bytes of a csv file, or a polars frame of four plain types.

Inputs are never changed; only the columns that are asked for go on.
"""

from __future__ import annotations

import contextlib
import os
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from stat import S_ISREG
from typing import Any

import polars as pl

from rootling._frames.engines import Engine, Progress, engine_of
from rootling._frames.readers import held, parquet
from rootling._frames.workbook import read_workbook
from rootling._given import has_half_letters, shortened
from rootling.exceptions import ChoiceError, TrialDataError

TEXT_FILES = (".csv", ".tsv", ".txt")
WORKBOOKS = (".xlsx", ".xlsm")
KNOWN = "a path to a csv, parquet or xlsx file, a polars or pandas frame, an Arrow stream, or a dictionary of columns"
# Rows of the longest table of an engine that comes over: as many units as a trial can be.
MOST = 10_000_000
# Parts of reading such a table: its rows counted, and brought over.
LISTING = 2


@dataclass(frozen=True)
class Input:
    """What goes to the core: ``text`` (bytes of a csv file) or ``frame``, and where rows are counted from.

    ``raw`` holds the entries of an engine's table as the engine has them.
    """

    text: bytes | None
    frame: pl.DataFrame | None
    source: str
    cells: list[list[str | None]] | None = None
    notes: list[tuple[str, str]] | None = None
    names: list[str] | None = None
    raw: pl.DataFrame | None = None


def read(
    data: Any,
    columns: Sequence[str],
    sheet: str | None = None,
    header_row: int | None = None,
    encoding: str | None = None,
    *,
    days: Sequence[str] = (),
    progress: Progress | None = None,
) -> Input:
    """Reads whatever a notebook has.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, a table that an engine holds, any object with
        ``__arrow_c_stream__``, or a dictionary.
    columns
        Names of the columns that are wanted.
    sheet, header_row, encoding
        Of a file: its sheet, the row of its names, how its letters are written.
    days
        Columns of days that go on too, where there are any of that name.
    progress
        Called with the parts done and all parts, where an engine holds the table.

    Raises
    ------
    TrialDataError
        When the input cannot be read as a table.
    """
    if isinstance(data, (str, os.PathLike)):
        return _read_path(Path(data), columns, (sheet, header_row, encoding), days)
    for name, value in (("sheet", sheet), ("header_row", header_row), ("encoding", encoding)):
        if value is not None:
            raise ChoiceError(f"{name}= is for files, and {type(data).__name__!r} is none; leave it out")
    engine = engine_of(data, progress)
    if engine is not None:
        return listed(engine, columns, days)
    if isinstance(data, pl.DataFrame):
        frame = data
    elif _is_pandas(data):
        frame = _from_pandas(data, columns)
    elif isinstance(data, Mapping):
        frame = _from_mapping(data)
    elif hasattr(data, "__arrow_c_stream__"):
        frame = held(lambda: pl.DataFrame(data))
    elif data is Ellipsis:
        raise TrialDataError.of_input("unknown_input", "the dots stand for your data", "put its name in their place")
    else:
        raise TrialDataError.of_input("unknown_input", f"{shortened(data)} is not a table", f"give {KNOWN}")
    return _ready(frame, columns, "frame", days)


def listed(engine: Engine, columns: Sequence[str], days: Sequence[str] = ()) -> Input:
    """The columns that are wanted of a table whose rows are units, and of a small one what else it holds."""
    names, source = engine.names(), "frame" if engine.numbered else "engine"
    if not names:
        return nothing_of(engine, columns)
    height = engine.height(MOST)
    engine.told(1, LISTING)
    if height > MOST:
        reason = f"the table has more than {MOST} rows, and each would be a unit, more than a trial holds"
        raise TrialDataError.of_input("too_many_rows", reason, "count or choose them in the query before loading")
    missing = not set(columns) <= set(names)
    # Of a small table that lacks a column all is brought, as of any other: who reads it says what is there.
    wanted = names if missing and _is_small(height, len(names)) else [*columns, *others(engine, columns, height), *days]
    raw = as_frame(engine.listed([name for name in names if name in wanted]), names)
    engine.told(LISTING, LISTING)
    return Input(None, _ready(raw, columns, source, days).frame, source, names=names, raw=raw)


def nothing_of(engine: Engine, columns: Sequence[str]) -> Input:
    """The names of a table that lacks a column, for whoever says so."""
    names = engine.names()
    frame = pl.DataFrame(schema=dict.fromkeys(names, pl.String))
    return _ready(frame, columns, "frame" if engine.numbered else "engine")


def others(engine: Engine, columns: Sequence[str], height: int) -> list[str]:
    """Columns of a small table that nobody named."""
    small = _is_small(height, len(engine.names()))
    return [name for name in engine.plain() if small and name not in columns and not _odd(name)]


def as_frame(found: Any, columns: Sequence[str]) -> pl.DataFrame:
    """The answer of an engine as a frame of polars."""
    return _from_pandas(found, columns) if _is_pandas(found) else found


def _ready(frame: pl.DataFrame, columns: Sequence[str], source: str, days: Sequence[str] = ()) -> Input:
    """What crosses to the core: of a small table what else it holds too, since a forgotten bench is told of."""
    if not frame.columns:
        hint = "give a column for each thing that was recorded, with one entry per row"
        raise TrialDataError.of_input("no_columns", "the table has no columns", hint)
    found = narrow(frame, columns)
    if _is_small(*frame.shape):
        others = [name for name in frame.columns if name not in found.columns and _is_plain(frame.get_column(name))]
        found = pl.DataFrame([*found.get_columns(), *map(frame.get_column, others)])
    beside = [name for name in days if name in frame.columns and name not in found.columns]
    if beside:
        found = pl.DataFrame([*found.get_columns(), *map(frame.get_column, beside)])
    _refuse_odd_names(found.columns)
    return Input(None, simplify(found, days), source, names=list(frame.columns))


# Cells of a table that is looked through as a whole, and rows in which the core looks for a forgotten bench.
SMALL = 200_000
LOOKED_AT = 20_000


def _is_small(height: int, width: int) -> bool:
    return height * width <= SMALL


def _is_plain(column: pl.Series) -> bool:
    """True for a column that nobody named and that the core can read."""
    name, dtype = column.name, column.dtype
    readable = dtype.is_numeric() or dtype in (pl.Boolean, pl.String, pl.Categorical, pl.Date, pl.Null)
    return readable and not _odd(name)


def _odd(name: str) -> bool:
    return "\0" in name or has_half_letters(name)


def _read_path(
    path: Path, columns: Sequence[str], how: tuple[str | None, int | None, str | None], days: Sequence[str]
) -> Input:
    sheet, header_row, encoding = how
    suffix = path.suffix.lower()
    _refuse_what_is_no_file(path)
    if sheet is not None and suffix not in WORKBOOKS:
        raise ChoiceError(f"sheet= is for workbooks, and {path.name!r} is none; leave it out")
    if encoding is not None and suffix not in TEXT_FILES:
        raise ChoiceError(f"encoding= is for text files, and {path.name!r} is none; leave it out")
    if header_row is not None and suffix == ".parquet":
        raise ChoiceError(f"header_row= is for sheets, and {path.name!r} holds its names by itself; leave it out")
    if suffix in TEXT_FILES:
        return Input(_text(path, encoding), None, "file")
    if suffix == ".parquet":
        frame = parquet(path)
    elif suffix in WORKBOOKS:
        cells, notes = read_workbook(path, sheet, columns, header_row)
        return Input(None, None, "file", cells, notes)
    else:
        raise TrialDataError.of_input(
            "unknown_file", f"{path.name!r} does not end in .csv, .parquet or .xlsx", "save it in one of these forms"
        )
    return _ready(frame, columns, "file", days)


def _refuse_what_is_no_file(path: Path) -> None:
    reason = f"the file {shortened(path.name)} does not exist"
    try:
        if S_ISREG(path.stat().st_mode):
            return
        reason = f"the file {shortened(path.name)} is {'a folder' if path.is_dir() else 'no ordinary file'}"
    except (FileNotFoundError, NotADirectoryError):
        pass
    except PermissionError:
        reason = f"the file {shortened(path.name)} may not be looked at by this user"
    except (OSError, ValueError):
        # Too long, or with a NUL in it.
        reason = f"{shortened(str(path))} cannot be the name of a file"
    raise TrialDataError.of_input("no_file", reason, "check the path")


def _text(path: Path, encoding: str | None) -> bytes:
    """The bytes of a text file in UTF-8."""
    text: bytes = held(path.read_bytes)
    if encoding is None:
        return text
    try:
        return text.decode(encoding).encode("utf-8")
    except (LookupError, UnicodeError):
        raise ChoiceError(
            f'encoding={encoding!r} does not read {path.name!r}; write encoding="cp1252" or encoding="utf-16"'
        ) from None


def _is_pandas(data: Any) -> bool:
    return type(data).__module__.split(".")[0] == "pandas" and hasattr(data, "columns") and hasattr(data, "dtypes")


def _refuse_odd_names(names: Iterable[str]) -> None:
    """Names that no other table can carry, on which its maker would stop the process."""
    odd = [name for name in names if _odd(name)]
    if odd:
        what = "a NUL" if "\0" in odd[0] else "half a letter"
        raise TrialDataError.of_input(
            "unreadable_header", f"the column name {shortened(odd[0])} has {what} in it", "rename the column"
        )


def _refuse_twins(names: Iterable[Any]) -> None:
    names = list(names)
    _refuse_odd_names(names)
    twins = [str(name) for name, times in Counter(names).items() if times > 1]
    if twins:
        raise TrialDataError.of_input(
            "duplicate_header",
            f"the column name {shortened(twins[0])} appears more than once",
            "give each column its own name",
        )


def _from_pandas(data: Any, columns: Sequence[str]) -> pl.DataFrame:
    names = [str(name) for name in data.columns]
    _refuse_twins(names)
    wanted = [name for name in names if name in columns]
    if len(wanted) < len(set(columns)):
        wanted = names
    found = {name: _pandas_column(name, data.iloc[:, names.index(name)]) for name in wanted}
    for at, name in enumerate(names):
        if name not in found and _is_small(*data.shape):
            with contextlib.suppress(TrialDataError):
                found[name] = _pandas_column(name, data.iloc[:, at])
    return pl.DataFrame(list(found.values()))


def _pandas_column(name: str, column: Any) -> pl.Series:
    if getattr(column.dtype, "kind", "O") in "iufb" and type(column.dtype).__module__.startswith("numpy"):
        return pl.Series(name, column.to_numpy())
    gaps = column.isna()
    return _mixed(name, [None if gap else value for value, gap in zip(column.tolist(), gaps.tolist(), strict=True)])


def _from_mapping(data: Mapping[Any, Any]) -> pl.DataFrame:
    names = [str(name) for name in data]
    _refuse_twins(names)
    columns = [_mapping_column(name, values) for name, values in zip(names, data.values(), strict=True)]
    lengths = {column.len(): column.name for column in columns}
    if len(lengths) > 1:
        found = ", ".join(f"{name!r} has {length}" for length, name in sorted(lengths.items()))
        raise TrialDataError.of_input(
            "unequal_columns", f"columns differ in length: {found}", "give each row every column"
        )
    return pl.DataFrame(columns)


def _mapping_column(name: str, values: Any) -> pl.Series:
    if isinstance(values, pl.Series):
        return values.alias(name)
    if isinstance(values, (str, bytes, Mapping)) or not isinstance(values, Iterable):
        raise TrialDataError.of_input(
            "not_a_column",
            f"{type(values).__name__!r} is not a column",
            "give a list with one entry per row",
            column=name,
        )
    if hasattr(values, "tolist"):
        values = values.tolist()
    return _mixed(name, list(values))


_NESTED = {list, tuple, dict, set, frozenset}


def _mixed(name: str, values: list[Any]) -> pl.Series:
    """A column from Python values; where types differ each entry is kept as its text, so that nothing is lost."""
    kinds = {type(value) for value in values if value is not None}
    if len(kinds) == 1 and kinds <= _NESTED:
        # Refused where it is asked for; what lists hold can make polars panic.
        return pl.Series(name, [None if value is None else [] for value in values], dtype=pl.List(pl.String))
    if len(kinds) <= 1 or kinds == {int, float}:
        try:
            # A decimal that is no number makes polars panic.
            odd = any(isinstance(value, Decimal) and not value.is_finite() for value in values)
            # One of two parts would be taken for a number, without the other.
            if not odd and not any(kind.__name__.startswith("complex") for kind in kinds):
                return pl.Series(name, values, strict=True)
        except (KeyboardInterrupt, SystemExit, MemoryError):
            raise
        except BaseException:
            kinds.add(object)
    texts = [None if value is None else str(value) for value in values]
    half = next((text for text in texts if text is not None and has_half_letters(text)), None)
    if half is not None:
        reason, hint = f"the entry {shortened(half)} has half a letter in it", "write the entry again"
        raise TrialDataError.of_input("unreadable_entry", reason, hint, column=name)
    return pl.Series(name, texts, dtype=pl.String)


def narrow(frame: pl.DataFrame, columns: Sequence[str]) -> pl.DataFrame:
    """Only the wanted columns; all of them when one is missing, so that the message can name what there is."""
    wanted = list(dict.fromkeys(name for name in columns if name in frame.columns))
    # Columns are taken out by hand: a query asks polars' threads, which a forked process does not have.
    return pl.DataFrame([frame.get_column(name) for name in wanted]) if len(wanted) == len(set(columns)) else frame


def simplify(frame: pl.DataFrame, days: Sequence[str] = ()) -> pl.DataFrame:
    """Every column as whole numbers, numbers, true/false or text; times in columns of days are left away."""
    columns = [frame.get_column(name) for name in frame.columns]
    dated = [one.cast(pl.Date) if one.name in days and isinstance(one.dtype, pl.Datetime) else one for one in columns]
    return pl.DataFrame([_plain_column(one) for one in dated])


def _exact(column: pl.Series) -> pl.Series:
    """Whole numbers and decimals to their last digit, as text where no number holds it: codes may be so long."""
    for kind in (pl.Int64, pl.Float64):
        plain: pl.Series = column.cast(kind, strict=False)
        if (plain.cast(column.dtype, strict=False) == column).fill_null(column.is_null()).all():
            return plain
    text: pl.Series = column.cast(pl.String)
    return text


def _plain_column(column: pl.Series) -> pl.Series:
    dtype: Any = column.dtype
    if dtype in (pl.Int64, pl.Float64, pl.Boolean, pl.String):
        return column
    if dtype.is_integer() or dtype.is_decimal():
        return _exact(column)
    wanted: Any = None
    if dtype.is_numeric():
        wanted = pl.Float64
    elif isinstance(dtype, (pl.Categorical, pl.Enum, pl.Date, pl.Datetime, pl.Time, pl.Null)):
        wanted = pl.String
    if wanted is not None:
        plain: pl.Series = column.cast(wanted)
        return plain
    if dtype == pl.Duration:
        return column.dt.to_string()
    raise TrialDataError.of_input(
        "unreadable_column",
        f"entries of type {dtype} cannot be read",
        "turn the column into numbers, text or true/false first",
        column=column.name,
    )
