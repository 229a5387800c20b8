"""Spreadsheet files as rows of text cells, from row 1 as the spreadsheet numbers them."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rootling._frames.readers import DAMAGED, held, unreadable
from rootling.exceptions import TrialDataError

__all__ = ["read_workbook"]

Cells = list[list[str | None]]
LOOKED_AT = 100
LARGEST = 20_000_000


def read_workbook(
    path: Path, sheet: str | None, wanted: Sequence[str], header_row: int | None
) -> tuple[Cells, list[tuple[str, str]]]:
    """The cells of one sheet and what is to be told about it.

    Parameters
    ----------
    path
        The workbook.
    sheet
        Name of the sheet; found by the wanted columns when left out.
    wanted
        Names of columns that the sheet should hold.
    header_row
        Row of the names, when the user said it.

    Raises
    ------
    TrialDataError
        When the file cannot be read, or which sheet is meant is for the user to say.
    """
    try:
        import fastexcel
    except ModuleNotFoundError:
        raise TrialDataError.of_input(
            "no_reader", "reading xlsx files needs the package fastexcel", "install it, or save the sheet as csv"
        ) from None
    _refuse_vast(path)
    book: Any = held(lambda: fastexcel.read_excel(path), DAMAGED)
    names: list[str] = list(book.sheet_names)
    if sheet is not None:
        if sheet not in names:
            hint = f"the sheets are {', '.join(names)}"
            raise TrialDataError.of_input(
                "unknown_sheet", f"there is no sheet {sheet!r}", hint, paste=f"sheet={names[0]!r}"
            )
        return _cells(book, sheet), []
    sheets = {name: cells for name in names if (cells := _cells(book, name))}
    if len(sheets) <= 1:
        return next(iter(sheets.values()), []), []
    return _the_one(sheets, wanted, header_row)


def _the_one(
    sheets: dict[str, Cells], wanted: Sequence[str], header_row: int | None
) -> tuple[Cells, list[tuple[str, str]]]:
    """The only sheet with the wanted columns; where several or none have them the user has to say."""
    rows = slice(header_row - 1, header_row) if header_row else slice(0, LOOKED_AT)

    def fits(cells: Cells) -> bool:
        lines = ({(cell or "").strip() for cell in line} for line in cells[rows])
        return any(set(wanted) <= line for line in lines)

    having = [name for name, cells in sheets.items() if fits(cells)]
    listed = ", ".join(sheets)
    if len(having) == 1:
        (name,) = having
        text = f"Sheet {name!r} was read: of the sheets {listed} it alone has the columns named. sheet= names another."
        return sheets[name], [("sheet", text)]
    first = (having or list(sheets))[0]
    which = f"{', '.join(having)} have" if having else "none has"
    reason = f"the workbook has the sheets {listed}, and {which} all the columns named"
    raise TrialDataError.of_input("several_sheets", reason, "say which with sheet=", paste=f"sheet={first!r}")


def _cells(book: Any, name: str) -> Cells:
    """All cells as text; rows and columns without an entry after the last one are left away."""
    table = held(lambda: book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars(), DAMAGED)
    # By hand and not by a query, whose threads a forked process does not have.
    lists: list[list[str | None]] = [column.to_list() for column in table.get_columns()]
    height = max(map(_filled, lists), default=0)
    return [list(line) for line in zip(*(cells[:height] for cells in lists), strict=True)]


def _filled(cells: list[str | None]) -> int:
    """How many cells there are up to the last one with an entry."""
    return next((at for at in range(len(cells), 0, -1) if (cells[at - 1] or "").strip()), 0)


def _refuse_vast(path: Path) -> None:
    """A stray entry far away makes a reader lay out every cell before it: looked at before anything is laid out."""
    try:
        with zipfile.ZipFile(path) as archive:
            for name in archive.namelist():
                if name.startswith("xl/worksheets/") and name.endswith(".xml"):
                    _refuse_vast_sheet(archive.read(name))
    except (TrialDataError, MemoryError):
        raise
    except OSError as error:
        raise unreadable(error) from None
    except Exception:
        # Each way of packing has errors of its own.
        raise unreadable(ValueError(_what_it_is(path))) from None


# How old workbooks begin, and those behind a password.
_OLD = bytes.fromhex("d0cf11e0a1b11ae1")


def _what_it_is(path: Path) -> str:
    """What may be said of a file that is no workbook as they are packed today."""
    with path.open("rb") as file:
        begins = file.read(len(_OLD))
    if not begins:
        return "it is empty"
    if begins == _OLD:
        return "it is behind a password, or an old workbook under a new name"
    return DAMAGED if begins.startswith(b"PK") else "it is no workbook, whatever its name says"


def _refuse_vast_sheet(xml: bytes) -> None:
    right = bottom = 0
    farthest: dict[str, str] = {}
    for column, row in re.findall(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"[^>]*[^/]>', xml):
        width = 0
        for letter in column:
            width = width * 26 + letter - 64
        cell = column.decode() + row.decode()
        if width > right:
            right, farthest["right"] = width, cell
        if int(row) > bottom:
            bottom, farthest["bottom"] = int(row), cell
    if right * bottom > LARGEST:
        far = f"{right:,} columns and {bottom:,} rows".replace(",", " ")
        cells = " and ".join(dict.fromkeys(farthest.values()))
        raise TrialDataError.of_input(
            "vast_sheet",
            f"the sheet spans {far}, since something stands in {cells}",
            "clear what stands far from the table, or save the table as csv",
        )
