"""Levels, or several names, where the name of one treatment is asked for: the answer is the line that was meant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rootling._given import plain, shortened, spelled
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from rootling.trial import Trial

__all__ = ["one_treatment"]

PAIR = 2


@contextmanager
def one_treatment(trial: Trial, given: Any, question: tuple[str, str]) -> Iterator[None]:
    """Runs a question about one treatment, by its verb and the name of that option.

    What stands in its place is looked at only where it cannot be answered.
    """
    try:
        yield
    except (ChoiceError, TypeError):
        if (reason := _meant(trial, given, *question)) is not None:
            raise ChoiceError(reason) from None
        raise


def _meant(trial: Trial, given: Any, verb: str, option: str) -> str | None:
    """What was meant, with its line; None where the name is that of a column, or near one."""
    value = plain(given)
    several = isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping))
    values = [plain(one) for one in value] if several else [value]
    levels = {one["name"]: one["levels"] for one in trial._core.units["treatments"]}
    if not levels or (not several and value in levels):
        return None
    names = [spelled(one) for one in values]
    shown = f"{option}={shortened(value)}"
    if names and all(name in levels for name in names):
        return f"{shown} is a list, and {verb} takes one treatment at a time; write trial.{verb}({names[0]!r})"
    own = next((name for name, known in levels.items() if names and all(one in known for one in names)), None)
    if own is None:
        if isinstance(value, str):
            return None
        known = ", ".join(levels)
        return f"{shown} is no treatment (these are {known}); write trial.{verb}({next(iter(levels))!r})"
    are = f"{'are levels' if len(names) > 1 else 'is a level'} of {own}, and {verb} takes the treatment"
    if verb == "compare_all" and len(names) == PAIR and names[0] != names[1]:
        return f"{shown} {are}; for these two write trial.compare({own!r}, {values[0]!r}, {values[1]!r})"
    return f"{shown} {are} with all its levels; write trial.{verb}({own!r})"
