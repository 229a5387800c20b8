"""Readers of other libraries: whatever they raise is one clear error, and what they print of a panic is not shown."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import threading
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rootling.exceptions import TrialDataError

__all__ = ["held", "parquet", "refuse_lost_threads", "unreadable"]

_ONE_AT_A_TIME = threading.RLock()
_TASKS = Path("/proc/self/task")
_READER = re.compile("polars-[0-9]")


class _Threads:
    """Whether the threads that read tables had begun in a process from which this one was forked: they stay behind."""

    begun = False
    lost = False


def _before_fork() -> None:
    _Threads.begun = _Threads.begun or _has_readers()


def _in_child() -> None:
    global _ONE_AT_A_TIME
    _ONE_AT_A_TIME = threading.RLock()
    _Threads.lost = _Threads.begun


def _has_readers() -> bool:
    """True where threads of polars run in this process; where nobody can tell, those that were asked for here count."""
    try:
        tasks = list(_TASKS.iterdir())
    except OSError:
        return False
    for task in tasks:
        try:
            if _READER.match((task / "comm").read_text(encoding="utf-8", errors="replace")):
                return True
        except OSError:
            continue
    return False


if hasattr(os, "register_at_fork"):
    os.register_at_fork(before=_before_fork, after_in_child=_in_child)


def refuse_lost_threads(what: str) -> None:
    """Stops where reading would wait for ever for threads that are in the parent process."""
    if _Threads.lost:
        raise TrialDataError.of_input(
            "forked_process",
            f"{what} cannot be read in a process that was forked after tables had been read in its parent",
            'load it before the fork, give it as csv, or start processes by multiprocessing.get_context("spawn")',
        )


_STDERR = 2
_MAGIC = b"PAR1"


DAMAGED = "it is damaged, or packed in a way that its reader does not know"


def held(read_it: Callable[[], Any], said: str | None = None) -> Any:
    """Runs a reader; whatever it raises, panics included (which are no ``Exception``), becomes one clear error.

    The words of a reader that speaks of its own insides are left out for what is ``said`` here.
    """
    try:
        with _ONE_AT_A_TIME, _panics_unseen():
            return read_it()
    except (KeyboardInterrupt, SystemExit, MemoryError, TrialDataError):
        raise
    except BaseException as error:
        raise unreadable(error if said is None or isinstance(error, OSError) else ValueError(said)) from None


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
    """A parquet file as a polars frame; its ends are looked at, and another process reads it, before this one."""
    import polars as pl

    refuse_lost_threads(f"the file {path.name!r}")
    _check_ends(path)
    _check_by_reading(path)
    if not _TASKS.exists():
        _Threads.begun = True
    return held(lambda: pl.read_parquet(path), DAMAGED)


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


# One damaged byte can make a reader ask for more memory than there is, which ends its process uncaught.
_TRIAL_READ = "import sys; sys.path[:] = sys.argv[2:]; import polars; polars.read_parquet(sys.argv[1])"
_ENDED_BY_ITSELF = (0, 1)


def _check_by_reading(path: Path) -> None:
    """Reads the file in a process that may die of it; errors that can be caught are left to the reading proper."""
    python = Path(sys.executable or "").name.lower()
    if not python.startswith(("python", "pypy")):
        return
    command = [sys.executable, "-I", "-S", "-c", _TRIAL_READ, str(path.absolute()), *sys.path]
    try:
        trial = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
            # No window beside the notebook.
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError:
        return
    if trial.returncode not in _ENDED_BY_ITSELF:
        raise unreadable(ValueError(DAMAGED))


def unreadable(error: BaseException) -> TrialDataError:
    """The error for a table that its reader cannot read."""
    reason = str(error).strip().splitlines() or [type(error).__name__]
    said = reason[0] if isinstance(error, Exception) else "the file is damaged"
    return TrialDataError.of_input(
        "unreadable", f"the table cannot be read ({said})", "open it, check it and save it again, or give it as csv"
    )
