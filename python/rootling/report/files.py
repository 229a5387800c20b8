"""The file of a report: what may be its name, what it may replace, and how it is written whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import Any

from rootling._pages import MARK
from rootling.exceptions import ReportError

# Letters of a path that a message shows.
LONGEST = 160


# Endings of files that hold something else than a web page.
OTHER_FILES = (
    ".pdf",
    ".doc",
    ".docx",
    ".odt",
    ".rtf",
    ".txt",
    ".md",
    ".xls",
    ".xlsx",
    ".csv",
    ".json",
    ".pptx",
    ".png",
)


# Letters of a page within which a report says that it is one.
HEAD = 4096


def target_of(what: Any, path: Any) -> Path:
    """The file to write, looked at before any work is done."""
    if not isinstance(path, (str, os.PathLike)):
        order = "; the results come first, the file second" if isinstance(what, (str, os.PathLike)) else ""
        raise ReportError(
            f'{type(path).__name__!r} is no name of a file; write rl.report.write(what, "report.html"){order}'
        )
    target = Path(path)
    try:
        named = b"\0" not in os.fsencode(target)
    except UnicodeEncodeError:
        named = False
    if not named:
        raise ReportError(f"{str(target)!r} cannot be the name of a file; name another")
    if target.suffix.lower() in OTHER_FILES:
        page = str(target.with_suffix(".html"))
        raise ReportError(
            f"a report is a web page and no {target.suffix} file; name it {page!r}, open it in a browser and print it "
            "from there, also into a PDF file"
        )
    if os.path.isdir(target):
        raise ReportError(f"{str(target)!r} is a folder; add the name of a file to it, for example report.html")
    if not os.path.isdir(target.parent):
        raise ReportError(f"there is no folder {str(target.parent)!r}; create it first, or name another")
    return target


def keep(target: Path) -> None:
    """Refuses to take the place of a file that somebody else made."""
    if not os.path.isfile(target):
        return
    try:
        with target.open("rb") as file:
            head = file.read(HEAD)
    except OSError:
        head = b"?"
    if head and MARK.encode() not in head:
        raise ReportError(
            f"there is a file {str(target)!r} that is no report of rootling, so it is left as it is; name another, or "
            "replace it with overwrite=True"
        )


def whole(target: Path, text: str) -> None:
    """Writes a text file; what stood there stays as it was unless all of the new text has reached the disk.

    Parameters
    ----------
    target : pathlib.Path
        The file; where it is a link, the file the link leads to.
    text : str
        What to write, as UTF-8; half a character, which UTF-8 does not have, becomes its code.

    Raises
    ------
    ReportError
        When the file cannot be written.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder) / "page.html"
    ...     whole(file, "walnut")
    ...     file.read_text(encoding="utf-8")
    'walnut'
    """
    data = text.encode("utf-8", "backslashreplace")
    place = Path(os.path.realpath(target))
    import secrets

    beside = place.with_name(f".{secrets.token_hex(8)}.part")
    try:
        if place.exists() and not place.is_file():
            # A pipe or a device holds nothing that could be lost, and must not be replaced by a file.
            place.write_bytes(data)
            return
        _write(beside, data)
        with contextlib.suppress(FileNotFoundError):
            os.chmod(beside, place.stat().st_mode & 0o777)
        os.replace(beside, place)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReportError(
            f"the report {_short(str(target))!r} could not be written ({reason}); what stood there is as it was; "
            "name another file"
        ) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _short(name: str) -> str:
    """A name of any length so that a message can hold it."""
    return name if len(name) <= LONGEST else f"{name[: LONGEST // 2]} ... {name[-LONGEST // 2 :]}"


def _write(beside: Path, data: bytes) -> None:
    with open(beside, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
