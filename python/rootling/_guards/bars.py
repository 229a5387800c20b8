"""A bar for work of more than a second, where somebody waits for it: in a notebook or at a terminal."""

from __future__ import annotations

import functools
import inspect
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from types import ModuleType
from typing import Any

from rootling._guards.homes import put

__all__ = ["quiet", "show_bar", "with_bar"]

# Seconds before a bar is seen.
PATIENCE = 1.0
OPTION = "progress"
_SILENT: ContextVar[bool] = ContextVar("rootling_silent", default=False)


@contextmanager
def quiet() -> Iterator[None]:
    """No bars within: whoever asks says by itself that work goes on."""
    before = _SILENT.set(True)
    try:
        yield
    finally:
        _SILENT.reset(before)


@contextmanager
def with_bar(names: Sequence[str], given: int, values: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """The named values of a question, and a bar for its progress where it tells that and the caller gave none.

    Parameters
    ----------
    names : sequence of str
        Its parameters.
    given : int
        How many of them were given by their place.
    values : mapping
        Those given by name.

    Examples
    --------
    >>> with quiet(), with_bar(["draws", "progress"], 0, {"draws": 9}) as values:
    ...     values
    {'draws': 9}
    """
    told = OPTION in names and (names.index(OPTION) < given or values.get(OPTION) is not None)
    if OPTION not in names or told or not _waited_for():
        yield values
        return
    bar = Bar()
    try:
        # What is asked within tells no bar of its own.
        with quiet():
            yield {**values, OPTION: bar}
    finally:
        bar.close()


def show_bar(owner: ModuleType, name: str) -> None:
    """Puts a bar before a question whose options are not checked here."""
    function = vars(owner)[name]

    @functools.wraps(function)
    def shown(*given: Any, **named: Any) -> Any:
        with with_bar(list(inspect.signature(function).parameters), len(given), named) as values:
            return function(*given, **values)

    put(owner, name, shown)


def _waited_for() -> bool:
    """True in a notebook, and where a person looks at the terminal."""
    if _SILENT.get():
        return False
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    if hasattr(shell, "kernel"):
        return True
    return sys.stderr is not None and sys.stderr.isatty()


class Bar:
    """Parts finished of those expected, as a line that is gone when all is done."""

    def __init__(self) -> None:
        self.line: Any = None

    def __call__(self, finished: int, expected: int) -> None:
        """Moves it."""
        if self.line is None:
            from tqdm import tqdm

            self.line = tqdm(total=expected, delay=PATIENCE, leave=False, file=sys.stderr, dynamic_ncols=True)
        self.line.total = expected
        self.line.update(finished - self.line.n)

    def close(self) -> None:
        """Takes it away."""
        if self.line is not None:
            self.line.close()
