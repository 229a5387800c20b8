"""A file is written whole or not at all: beside its place first, then moved there in one step."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from rootling.exceptions import ReportError

# Letters of a path that a message shows.
LONGEST = 160


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
