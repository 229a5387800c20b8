"""What ends a query of an engine early: each is one sentence that says what to do, and nothing is left half-made."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from rootling.exceptions import RootlingError, TrialDataError

__all__ = ["lost_workers", "told"]

FULL = ("no space left", "disk full", "disk quota", "out of disk")
MEMORY = ("out of memory", "outofmemory", "cannot allocate", "could not allocate")
# As engines tell of Ctrl-C that they noticed themselves.
INTERRUPTED = ("interruptexception", "interrupterror", "query interrupted", "interrupted!")
CLOSED = ("been closed", "connection is closed", "setcallsite", "was shut down", "stopped sparkcontext")
WORKERS = ("killedworker", "commclosed", "lostworker", "workers died", "executorlost", "no workers")
LONGEST = 200


@contextmanager
def told(engine: str) -> Iterator[None]:
    """Turns whatever an engine raises into one clear error; a stop by Ctrl-C goes on as it is."""
    try:
        yield
    except (KeyboardInterrupt, SystemExit, MemoryError, RootlingError):
        raise
    except BaseException as error:
        raise _of(engine, error) from None


def lost_workers(engine: str) -> TrialDataError:
    """The error for a cluster of which nothing is left to count."""
    reason = f"the workers of {engine} that counted the rows were lost"
    hint = "start the cluster again, with more memory for each worker where they ran out of it, and load again"
    return TrialDataError.of_input("lost_workers", reason, f"{hint}; nothing was made")


def _of(engine: str, error: BaseException) -> TrialDataError:
    said = f"{type(error).__name__} {error}".lower()
    if any(word in said for word in INTERRUPTED):
        raise KeyboardInterrupt from None
    if getattr(error, "errno", None) == errno.ENOSPC or any(word in said for word in FULL):
        reason, hint = f"the disk on which {engine} works is full", "make room and load again; nothing was made"
        return TrialDataError.of_input("disk_full", reason, hint)
    if any(word in said for word in WORKERS):
        return lost_workers(engine)
    if any(word in said for word in CLOSED):
        reason = f"the connection or session of {engine} that holds the table is closed"
        return TrialDataError.of_input("closed_connection", reason, "open it again, make the table anew and load that")
    if any(word in said for word in MEMORY):
        reason = f"{engine} has not the memory to count these rows"
        return TrialDataError.of_input("engine_memory", reason, "give it more, or leave out columns of many values")
    first = next(iter(str(error).strip().splitlines()), "") or type(error).__name__
    shown = first if len(first) <= LONGEST else f"{first[:LONGEST]}..."
    reason = f"{engine} could not answer ({shown})"
    return TrialDataError.of_input("engine_failed", reason, "put right what it says in the table or the query")
