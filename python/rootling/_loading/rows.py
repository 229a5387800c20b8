"""The rows of a sheet that comes back, as texts by column, with the numbers that whoever filled it sees."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rootling import _frames
from rootling._given import spelled
from rootling.exceptions import TrialDataError

__all__ = ["Sheet", "read_rows"]


@dataclass(frozen=True)
class Sheet:
    """Columns by name with a text for each row, row numbers, and where they are counted from."""

    columns: dict[str, list[str]]
    numbers: list[int]
    source: str


def read_rows(
    data: Any, wanted: Sequence[str], sheet: str | None = None, encoding: str | None = None, *, exact: bool = False
) -> Sheet:
    """Reads whatever holds a sheet; where it is to be exact, cells keep the spaces around them."""
    told = _exact if exact else _text
    found = _frames.read(data, wanted, sheet, None, encoding)
    if found.frame is not None:
        frame = found.frame
        first = 2 if found.source == "file" else 1
        columns = {name: [told(cell) for cell in frame.get_column(name).to_list()] for name in frame.columns}
        return Sheet(columns, list(range(first, frame.height + first)), found.source)
    lines = found.cells if found.cells is not None else _lines(found.text or b"")
    return _named([[told(cell) for cell in line] for line in lines], wanted)


def _named(lines: list[list[str]], wanted: Sequence[str]) -> Sheet:
    """The lines below that of the names."""
    first = wanted[0]
    at = next((at for at, line in enumerate(lines) if first in map(str.strip, line)), None)
    if at is None:
        raise TrialDataError.of_input(
            "no_tray_column",
            f"the sheet has no column {first!r}",
            "give the record sheet of the plan, with its row of names",
            column=first,
        )
    names = lines[at]
    below = [(number, line) for number, line in enumerate(lines[at + 1 :], start=at + 2) if any(map(str.strip, line))]
    columns = {
        name: [line[place] if place < len(line) else "" for _, line in below]
        for place, name in enumerate(names)
        if name.strip()
    }
    return Sheet(columns, [number for number, _ in below], "file")


def _lines(text: bytes) -> list[list[str]]:
    """Delimited text, by commas, semicolons or tabs, whichever its first line has most of."""
    try:
        told = text.decode("utf-8-sig")
    except UnicodeDecodeError:
        told = text.decode("cp1252", "replace")
    head = told.split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    return list(csv.reader(io.StringIO(told, newline=""), delimiter=mark))


def _text(cell: Any) -> str:
    return _exact(cell).strip()


def _exact(cell: Any) -> str:
    return "" if cell is None or (isinstance(cell, float) and cell != cell) else str(spelled(cell))
