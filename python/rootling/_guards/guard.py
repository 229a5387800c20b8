"""The checks of options, put before every public question."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any

from rootling._given import LONGEST, LONGEST_NAME, UNREAD, plain
from rootling._guards.bars import with_bar
from rootling._guards.homes import put
from rootling._guards.options import checks_of
from rootling.exceptions import RootlingError

__all__ = ["guard"]

# The option, its value and what is wrong with it.
Refused = tuple[str, Any, RootlingError]


def _guarded(function: Callable[..., Any]) -> Callable[..., Any]:
    # Looked up at the first call: most questions are never asked.
    known = functools.cache(lambda: checks_of(function))

    def checked(name: str, value: Any) -> Any:
        found = known()[1].get(name)
        if found is None:
            return value
        check, optional = found
        value = plain(value)
        return None if value is None and optional else check(name, value)

    def looked_at(name: str, value: Any, refused: list[Refused]) -> Any:
        try:
            return checked(name, value)
        except RootlingError as error:
            refused.append((name, value, error))
            return plain(value)

    @functools.wraps(function)
    def guarded(*given: Any, **named: Any) -> Any:
        refused: list[Refused] = []
        places = [looked_at(name, value, refused) for name, value in zip(known()[0], given, strict=False)]
        values = {name: looked_at(name, value, refused) for name, value in named.items()}
        try:
            with with_bar(known()[0], len(given), values) as shown:
                answer = function(*places, *given[len(places) :], **shown)
        except Exception as error:
            # What the question itself says of the value is said best; a call that does not fit is answered elsewhere.
            if not refused or _tells(error, refused[0]) or not _fits(function, given, named):
                raise
            raise refused[0][2] from None
        if refused:
            raise refused[0][2]
        return answer

    return guarded


def _tells(error: Exception, refused: Refused) -> bool:
    """True where a sentence of the question itself names the option, or the value if that is a short text."""
    name, value, _ = refused
    said = str(error).lower()
    if not isinstance(error, RootlingError) or UNREAD in said or "<u+000a>" in said or len(said) >= LONGEST_NAME:
        return False
    shown = isinstance(value, str) and 0 < len(value) <= LONGEST and f'"{value.lower()}"' in said
    return shown or name.lower() in said.replace(" ", "_")


def _fits(function: Callable[..., Any], given: tuple[Any, ...], named: Mapping[str, Any]) -> bool:
    """True where the names and the number of the values are those of the function."""
    try:
        inspect.signature(function).bind(*given, **named)
    except TypeError:
        return False
    return True


def guard(*owners: ModuleType | type) -> None:
    """Puts the checks before every public question of these modules and classes."""
    for owner in owners:
        for name, value in list(vars(owner).items()):
            if name.startswith("_") or not inspect.isfunction(value) or hasattr(value, "__wrapped__"):
                continue
            if _is_of_room(value.__module__, owner):
                # A question of a class says in help what a method does: its first place is the class itself.
                value.__annotations__.pop("self", None)
                put(owner, name, _guarded(value))


def _is_of_room(module: str, owner: ModuleType | type) -> bool:
    """True for what a module or package, or the one that a class stands in, holds itself."""
    room = owner.__name__ if isinstance(owner, ModuleType) else owner.__module__.rpartition(".")[0]
    return f"{module}.".startswith(f"{room}.")
