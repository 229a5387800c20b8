"""Wrong calls are answered with the right one: no error of Python's own for a keyword or a value too many."""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import is_dataclass
from numbers import Integral, Real
from types import ModuleType
from typing import Any

from rootling._given import UNREAD, check_known, shortened
from rootling._guards.homes import put
from rootling.exceptions import ChoiceError, CountError, RootlingError

__all__ = ["watch"]

# Marks what is watched already.
WATCHED = "_watched"


def _own(call: Callable[..., Any]) -> list[inspect.Parameter]:
    return [one for one in inspect.signature(call).parameters.values() if one.name != "self"]


def _explain(call: Callable[..., Any], given: Sequence[Any], named: Iterable[str]) -> None:
    """Raises what is wrong with the names and the number of arguments."""
    own = _own(call)
    name = _name(call)
    if any(one.kind is one.VAR_KEYWORD for one in own):
        named = []
    check_known([one for one in named if one not in {known.name for known in own}], [one.name for one in own], name)
    places = [one.name for one in own if one.kind is one.POSITIONAL_OR_KEYWORD]
    if len(given) > len(places):
        if name == "compare" and len(places) > 1:
            raise ChoiceError(
                f"compare sets two levels against each other, {len(given) - 1} were given; for all levels write\n"
                f"  trial.compare_all({given[0]!r})"
            )
        options = ", ".join(f"{one.name}=" for one in own if one.kind is one.KEYWORD_ONLY)
        taken = ", ".join(places) or "no value"
        rest = f"; name what follows: {options}" if options else ""
        raise ChoiceError(f"{name} takes {taken}, {len(given)} values were given{rest}")
    filled = {*places[: len(given)], *named}
    twice = [one for one in places[: len(given)] if one in set(named)]
    if twice:
        raise ChoiceError(f"{name} was given {twice[0]} twice, by its place and by its name; leave one out")
    missing = [one.name for one in own if one.default is one.empty and one.name not in filled and one.kind <= 3]
    if missing:
        line = ", ".join(one.name for one in own if one.default is one.empty and one.kind is not one.VAR_KEYWORD)
        more = ", ..." if any(one.default is not one.empty for one in own) else ""
        raise ChoiceError(f"{name} needs {' and '.join(missing)}; write {name}({line}{more})")


def _name(call: Callable[..., Any]) -> str:
    """The name as it is called: that of the class for what makes one."""
    return call.__qualname__.split(".")[0] if call.__name__ == "__init__" else call.__name__


# What an annotation asks for: types that fit, what it is called, an example.
WANTED: dict[str, tuple[tuple[type, ...], str, str]] = {
    "str": ((str,), "name", '"strength"'),
    "Mapping": ((Mapping,), "dictionary", '{"rootstock": "K12"}'),
    "int": ((Integral,), "whole number", "1"),
    "float": ((Real,), "number", "0.1"),
}


def _explain_values(call: Callable[..., Any], given: Mapping[str, Any]) -> None:
    """Raises the first argument that cannot be what its place asks for."""
    for one in _own(call):
        asked = str(one.annotation).removesuffix(" | None").split("[")[0]
        value = given.get(one.name)
        if asked not in WANTED or value is None or one.name not in given:
            continue
        types, what, example = WANTED[asked]
        if not isinstance(value, types) or isinstance(value, bool):
            kind = CountError if "number" in what else ChoiceError
            raise kind(f"{one.name}={shortened(value)} is no {what}; write {one.name}={example}")


def _watched(call: Callable[..., Any], *, bound: bool) -> Callable[..., Any]:
    @functools.wraps(call)
    def asked(*given: Any, **named: Any) -> Any:
        try:
            return call(*given, **named)
        except UnicodeEncodeError as error:
            raise _half_letter(call, error.object[error.start]) from None
        except (TypeError, AttributeError, ChoiceError) as error:
            # Only now, so that a right call costs nothing: was it the call that was wrong?
            if isinstance(error, ChoiceError) and UNREAD not in str(error):
                raise
            if found := HALF.search(str(error)):
                raise _half_letter(call, chr(int(found[1], 16))) from None
            try:
                places = inspect.signature(call).bind(*given, **named).arguments
            except TypeError:
                places = None
            reason = _wrong(call, given[bound:], named, places)
            if reason is None:
                raise
            raise reason from None

    setattr(asked, WATCHED, True)
    return asked


HALF = re.compile(r"can't encode character '\\u(d[89a-f][0-9a-f]{2})'")


def _half_letter(call: Callable[..., Any], letter: str) -> ChoiceError:
    return ChoiceError(
        f"{_name(call)} was given a text with half a letter in it (U+{ord(letter):04X}), which no table can hold; "
        "write it again"
    )


def _wrong(
    call: Callable[..., Any], given: Sequence[Any], named: Mapping[str, Any], places: Mapping[str, Any] | None
) -> RootlingError | None:
    """What is wrong with a call, where it is the call that is wrong."""
    try:
        if places is None:
            _explain(call, given, named)
        else:
            _explain_values(call, places)
    except RootlingError as reason:
        return reason
    return None


def _watch_class(made: type) -> None:
    for name, member in list(vars(made).items()):
        asked = not name.startswith("_") or (name == "__init__" and is_dataclass(made))
        if inspect.isfunction(member) and asked and not hasattr(member, WATCHED):
            put(made, name, _watched(member, bound=True))


def watch(modules: Iterable[ModuleType]) -> None:
    """Watches all that is public in the modules, and the methods of their classes."""
    for module in modules:
        for name in module.__all__:
            member = getattr(module, name)
            if inspect.isclass(member):
                for parent in member.__mro__:
                    if parent.__module__.startswith("rootling") and not issubclass(parent, Exception):
                        _watch_class(parent)
            elif inspect.isfunction(member) and not hasattr(member, WATCHED):
                put(module, name, _watched(member, bound=False))
