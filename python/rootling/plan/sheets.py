"""Record sheet, key and labels as files: csv, workbooks and a page to print."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rootling._pages import on_page
from rootling._words import inert
from rootling.exceptions import ReportError

__all__ = ["key_columns", "key_rows", "write_key", "write_labels", "write_record_sheet"]

Rows = list[list[Any]]
PLACES = ("replicate", "block", "whole_plot", "strip")
# What is filled in by hand.
FILLED = ("stuck", "rooted", "dead", "lost", "reader", "date")


def key_columns(numbers: Any) -> list[str]:
    """The columns of the key, in the order of its seals."""
    treatments = [one.name for one in numbers.options.treatments]
    return ["plan", "tray", "bench", "row", "column", *PLACES, *treatments, "stock_plant", "reader", "seal"]


def key_rows(numbers: Any) -> Rows:
    """One line for each tray: its code, its place, what it gets, its seal."""
    return [
        [numbers.fingerprint, tray.tray, tray.bench, tray.row, tray.column]
        + [tray[place] or "" for place in PLACES]
        + [*tray.levels, tray.stock_plant or "", tray.reader or "", tray.seal]
        for tray in numbers.trays
    ]


def _record_rows(numbers: Any) -> tuple[list[str], Rows]:
    """Codes, places and room for counts; nothing that tells the treatment."""
    places = [place for place in ("block", "whole_plot", "strip") if any(tray[place] for tray in numbers.trays)]
    columns = ["plan", "tray", "bench", "row", "column", *places, *FILLED]
    stuck = "" if numbers.options.stuck is None else numbers.options.stuck
    rows: Rows = [
        [numbers.fingerprint, tray.tray, tray.bench, tray.row, tray.column]
        + [tray[place] or "" for place in places]
        + [stuck, "", "", "", tray.reader or "", ""]
        for tray in numbers.trays
    ]
    return columns, rows


def write_record_sheet(numbers: Any, path: Any) -> Path:
    """The sheet to be filled in; one that exists may hold counts and is left as it is."""
    target = _target(path, (".xlsx", ".csv"), "record_sheet")
    if target.exists():
        raise ReportError(
            f"there is a file {str(target)!r}, which may hold counts, so it is left as it is; name another"
        )
    columns, rows = _record_rows(numbers)
    if target.suffix.lower() == ".csv":
        return _write(target, _csv(columns, rows))
    return _write(target, _workbook("record sheet", columns, rows, checked=True))


def write_key(numbers: Any, path: Any) -> Path:
    """What each code stands for: kept apart from whoever reads."""
    target = _target(path, (".xlsx", ".csv"), "key")
    columns, rows = key_columns(numbers), key_rows(numbers)
    if target.suffix.lower() == ".csv":
        return _write(target, _csv(columns, rows))
    return _write(target, _workbook("key", columns, rows, checked=False))


def write_labels(numbers: Any, path: Any) -> Path:
    """Labels of trays: a csv for a label printer, or a page to print and cut."""
    target = _target(path, (".html", ".csv"), "labels")
    if target.suffix.lower() == ".csv":
        columns = ["plan", "tray", "bench", "row", "column", "code"]
        rows: Rows = [
            [numbers.fingerprint, tray.tray, tray.bench, tray.row, tray.column, f"{numbers.fingerprint} {tray.tray}"]
            for tray in numbers.trays
        ]
        return _write(target, _csv(columns, rows))
    labels = [_label(numbers.fingerprint, tray) for tray in numbers.trays]
    return _write(target, on_page("labels", title=f"Labels of plan {numbers.fingerprint}", labels=labels).encode())


def _label(plan: str, tray: Mapping[str, Any]) -> dict[str, Any]:
    import segno
    from markupsafe import Markup

    square = segno.make(f"{plan} {tray['tray']}", micro=False).svg_inline(border=4, omitsize=True)
    place = f"bench {tray['bench']}, row {tray['row']}, column {tray['column']}"
    # Made here of letters and digits alone.
    return {"code": tray["tray"], "place": place, "plan": plan, "square": Markup(square)}


def _csv(columns: Sequence[str], rows: Rows) -> bytes:
    """Text with a mark of its letters at the start, by which spreadsheets know them."""
    held = io.StringIO()
    writer = csv.writer(held, lineterminator="\r\n")
    writer.writerow([inert(name) for name in columns])
    writer.writerows([[inert(cell) if isinstance(cell, str) else cell for cell in row] for row in rows])
    return held.getvalue().encode("utf-8-sig")


def _workbook(name: str, columns: Sequence[str], rows: Rows, *, checked: bool) -> bytes:
    """A workbook whose texts are texts, whatever they look like; counts are looked at as they are typed."""
    import xlsxwriter

    held = io.BytesIO()
    plain = {"strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False, "in_memory": True}
    with xlsxwriter.Workbook(held, plain) as book:
        sheet = book.add_worksheet(name)
        head, text = book.add_format({"bold": True, "bottom": 1}), book.add_format({"num_format": "@"})
        day = book.add_format({"num_format": "yyyy-mm-dd"})
        for at, column in enumerate(columns):
            sheet.write_string(0, at, column, head)
            longest = max([len(column), *(len(str(row[at])) for row in rows)])
            form = day if column == "date" else None if column in ("stuck", "rooted", "dead") else text
            sheet.set_column(at, at, min(40, longest + 2), form)
        for line, row in enumerate(rows, start=1):
            for at, cell in enumerate(row):
                if isinstance(cell, str):
                    if cell:
                        sheet.write_string(line, at, cell, text)
                else:
                    sheet.write_number(line, at, cell)
        sheet.freeze_panes(1, 2)
        sheet.repeat_rows(0)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        if checked and rows:
            _check_counts(sheet, list(columns), len(rows))
    return held.getvalue()


def _check_counts(sheet: Any, columns: list[str], rows: int) -> None:
    """Whole numbers of 0 or more, rooted and dead together no more than were stuck; a blank is unread and no 0."""
    from xlsxwriter.utility import xl_col_to_name

    stuck, rooted, dead = (xl_col_to_name(columns.index(name), col_abs=True) for name in ("stuck", "rooted", "dead"))
    blank = "Blank means not read yet; write 0 only where none is. A lost tray: say why in the column lost."
    for name, own in (("stuck", stuck), ("rooted", rooted), ("dead", dead)):
        whole = f"ISNUMBER({own}2),{own}2=INT({own}2),{own}2>=0"
        fits = f",N({rooted}2)+N({dead}2)<={stuck}2" if name != "stuck" else ""
        sheet.data_validation(
            1, columns.index(name), rows, columns.index(name),
            {
                "validate": "custom", "value": f"=AND({whole}{fits})", "ignore_blank": True,
                "input_title": name, "input_message": blank, "error_title": "Look again",
                "error_message": "A whole number, 0 or more; rooted and dead together cannot exceed those stuck.",
            },
        )  # fmt: skip


def _target(path: Any, endings: tuple[str, ...], what: str) -> Path:
    """The file to write, looked at first."""
    example = f'plan.{what}("{what}{endings[0]}")'
    if not isinstance(path, (str, os.PathLike)):
        raise ReportError(f"{type(path).__name__!r} is no name of a file; write {example}")
    target = Path(path)
    if target.suffix.lower() not in endings:
        raise ReportError(f"{target.name!r} does not end in {' or '.join(endings)}; write {example}")
    if not target.parent.is_dir():
        raise ReportError(f"there is no folder {str(target.parent)!r}; create it first, or name another")
    return target


def _write(target: Path, data: bytes) -> Path:
    beside = target.with_name(f".{target.name}.part")
    try:
        beside.write_bytes(data)
        os.replace(beside, target)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReportError(f"{str(target)!r} could not be written ({reason}); name another file") from None
    finally:
        beside.unlink(missing_ok=True)
    return target
