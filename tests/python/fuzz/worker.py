"""Runs a range of cases of one field in a process of its own, and says on a pipe which one it is at."""

from __future__ import annotations

import ctypes
import faulthandler
import json
import os
import random
import resource
import signal
import sys
import time
import traceback
from typing import Any

CASE_MEMORY = 400 * 2**20  # growth of one small case
ALL_MEMORY = 6 * 2**30


def case(field: str, number: int, *, tell: bool = False) -> Any:
    """One case, made from its field and number alone; gives the oracle with what it found."""
    from fuzz.fields import FIELDS
    from fuzz.oracle import Oracle

    look = Oracle(random.Random(f"{field} {number}"), number=number, tell=tell)
    try:
        FIELDS[field](look)
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        look.fail(
            "the suite itself", f"{type(error).__name__} {place.name}", "".join(traceback.format_exception(error))
        )
    return look


def peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def end_with_the_driver() -> None:
    """Where the driver is ended from outside, a worker in a case without end would go on alone."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)  # PR_SET_PDEATHSIG


def main(field: str, first: int, last: int) -> None:
    end_with_the_driver()
    out = os.dup(1)
    errors = os.open(os.environ["FUZZ_STDERR"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(errors, 1)
    os.dup2(errors, 2)
    faulthandler.enable(all_threads=False)
    resource.setrlimit(resource.RLIMIT_AS, (ALL_MEMORY, ALL_MEMORY))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    import fuzz.fields  # noqa: F401  the cost of importing is not the first case's
    from fuzz.oracle import blurred

    said = os.fstat(errors).st_size
    for number in range(first, last):
        os.write(out, f"{number}\n".encode())
        before, began = peak(), time.process_time()
        look = case(field, number)
        grown, seconds = peak() - before, time.process_time() - began
        sys.stdout.flush()
        sys.stderr.flush()
        if os.fstat(errors).st_size > said:
            with open(os.environ["FUZZ_STDERR"], "rb") as file:
                text = file.read()[said:].decode("utf-8", "replace")
            said = os.fstat(errors).st_size
            if not look.others_panic:
                look.fail("printed", blurred(text), text)
        if grown > CASE_MEMORY and number > first:
            look.fail("memory", f"much memory in one case of {field}", f"{grown >> 20} MB")
        told = {"seconds": round(seconds, 4), "failures": look.failures, "digest": look.digest.hexdigest()[:16]}
        os.write(out, (json.dumps(told) + "\n").encode())


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
