"""Readers of other libraries: whatever they raise is one clear error, and what they print of a panic is not shown."""

from __future__ import annotations

import os
import tempfile
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rootling.exceptions import TrialDataError

__all__ = ["held", "parquet", "unreadable"]

_ONE_AT_A_TIME = threading.RLock()
_STDERR = 2
_MAGIC = b"PAR1"


def held(read_it: Callable[[], Any]) -> Any:
    """Runs a reader; whatever it raises, panics included (which are no ``Exception``), becomes one clear error."""
    try:
        with _ONE_AT_A_TIME, _panics_unseen():
            return read_it()
    except (KeyboardInterrupt, SystemExit, MemoryError, TrialDataError):
        raise
    except BaseException as error:
        raise unreadable(error) from None


@contextmanager
def _panics_unseen() -> Iterator[None]:
    """Holds back what is printed to the process's error stream, and prints it after all unless a panic came."""
    try:
        before = os.dup(_STDERR)
    except OSError:
        yield
        return
    panicked = False
    with tempfile.TemporaryFile() as held_back:
        os.dup2(held_back.fileno(), _STDERR)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                yield
        except BaseException as error:
            panicked = not isinstance(error, Exception)
            raise
        finally:
            os.dup2(before, _STDERR)
            os.close(before)
            held_back.seek(0)
            printed = held_back.read()
            if printed and not panicked:
                os.write(_STDERR, printed)


def parquet(path: Path) -> Any:
    """A parquet file as a polars frame; its two ends are looked at before its reader is asked."""
    import polars as pl

    _check_ends(path)
    return held(lambda: pl.read_parquet(path))


def _check_ends(path: Path) -> None:
    try:
        with path.open("rb") as file:
            begins = file.read(4)
            size = file.seek(0, os.SEEK_END)
            file.seek(max(size - 8, 0))
            ends = file.read(8)
    except OSError as error:
        raise unreadable(error) from None
    length = int.from_bytes(ends[:4], "little")
    if begins != _MAGIC or ends[4:] != _MAGIC or not 0 < length <= size - 12:
        raise unreadable(ValueError("it is no parquet file, or a part of it is missing"))


def unreadable(error: BaseException) -> TrialDataError:
    """The error for a table that its reader cannot read."""
    reason = str(error).strip().splitlines() or [type(error).__name__]
    said = reason[0] if isinstance(error, Exception) else "the file is damaged"
    return TrialDataError.of_input(
        "unreadable", f"the table cannot be read ({said})", "open it, check it and save it again, or give it as csv"
    )
