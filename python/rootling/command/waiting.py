"""Signs of life while something takes long: beside the output, and only where somebody looks at it."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType

__all__ = ["Waiting"]

# Seconds before anything is said, and between two signs.
PATIENCE, PACE = 1.0, 0.25


class Waiting:
    """Tells on the terminal that work goes on, after a second; the line is gone when it is done.

    Called with parts finished and expected it tells these, too.
    """

    def __init__(self, what: str) -> None:
        self.what = what
        self.parts = ""
        self.begun = time.monotonic()
        self.done = threading.Event()
        self.told = 0
        self.thread: threading.Thread | None = None

    def __call__(self, finished: int, expected: int) -> None:
        """Parts finished, of how many."""
        self.parts = f", {finished} of {expected}"

    def __enter__(self) -> Waiting:
        if sys.stderr.isatty():
            self.thread = threading.Thread(target=self._tell, daemon=True)
            self.thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.done.set()
        if self.thread is not None:
            self.thread.join()
        if self.told:
            sys.stderr.write("\r" + " " * self.told + "\r")
            sys.stderr.flush()

    def _tell(self) -> None:
        pause = PATIENCE
        while not self.done.wait(pause):
            pause = PACE
            line = f"{self.what}{self.parts} ... {time.monotonic() - self.begun:.0f} s"
            sys.stderr.write("\r" + line.ljust(self.told))
            sys.stderr.flush()
            self.told = max(self.told, len(line))
