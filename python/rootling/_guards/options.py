"""Options of a kind they cannot be: each is named in one sentence, where the question itself has none for it."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import Any, get_args

from rootling._given import LONGEST, LONGEST_NAME, choices, has_columns, is_name, plain, shortened
from rootling._results import Result
from rootling.exceptions import ChoiceError, CountError
from rootling.units import Strength

__all__ = ["Check", "checks_of"]

Check = Callable[[str, Any], Any]

WHOLE = 2**64 - 1


def _refused(name: str, value: Any, hint: str) -> ChoiceError:
    # Of an entry of a dictionary the name ends in a colon.
    return ChoiceError(f"{name}{' ' if name.endswith(':') else '='}{shortened(value)} {hint}")


def _column(name: str, value: Any) -> str:
    if is_name(value):
        return str(value)
    example = _EXAMPLES.get(name, "strength")
    several = plain(value)
    several = list(several) if isinstance(several, (list, tuple)) else []
    if name == "treatment" and len(several) == 2 and all(map(is_name, several)):
        hint = f"names two columns where one is asked for; write treatment={several[0]!r}, within={several[1]!r}"
        raise _refused(name, value, f"{hint} for the levels of the first in each of the second")
    raise _refused(name, value, f'is no name; write {name}="{example}", or the name that is meant')


_EXAMPLES = {"unit": "mg/L", "substance": "IBA", "text": "2500 mg/L IBA", "darkness": "dark_days"}


def _columns(name: str, value: Any) -> Any:
    value = value.tolist() if hasattr(value, "tolist") else value
    if is_name(value):
        return value
    if isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping)):
        found = [plain(one) for one in value]
        if all(map(is_name, found)):
            return found
    raise _refused(name, value, f'is no list of names; write {name}=["strength", "rootstock"] with the names meant')


def _sets(name: str, value: Any) -> list[list[str]]:
    if isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping)):
        found = [one if isinstance(one, (str, bytes, Mapping)) else plain(one) for one in value]
        if all(isinstance(one, Iterable) and not isinstance(one, (str, bytes, Mapping)) for one in found):
            return [[_column(name, plain(part)) for part in one] for one in found]
    raise _refused(name, value, f'is no list of sets of names; write {name}=[("strength", "rootstock")]')


def _number(name: str, value: Any) -> Any:
    if isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) <= WHOLE:
        if name == "take" and not 0 < value < 1:
            raise CountError(f"take {value} is not between 0 and 1; give the take as a proportion, for example 0.6")
        return float(value)
    if isinstance(value, float):
        raise CountError(f"{name} {value} is not a number that it can be; correct it")
    hint = "give it as a proportion, for example 0.95" if name == "confidence" else "give one, for example 0.1"
    raise CountError(f"{name}={shortened(value)} is no number; {hint}")


def _single(name: str, value: Any) -> Any:
    """One number or many; of many the core says which is wrong."""
    return _number(name, value) if isinstance(value, int) and not isinstance(value, bool) else value


def _cuttings(name: str, value: Any) -> Any:
    """Whether it is a count is for the core to say; it has no words for very long texts."""
    if isinstance(value, str) and len(value) > LONGEST:
        raise CountError(f"{name} {shortened(value)} is not a whole number of cuttings, 0 or more; correct it")
    return value


def _whole(name: str, value: Any) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= WHOLE:
        return value
    if isinstance(value, int) and not isinstance(value, bool) and value > WHOLE:
        raise CountError(
            f"{name} {shortened(value)} is above {WHOLE}, the largest taken; give a smaller one, for example 1"
        )
    example = str(math.ceil(value)) if isinstance(value, float) and 0 < value < WHOLE else "1"
    # Of an entry of a dictionary the name ends in a colon.
    shown, write = (name, example) if name.endswith(":") else (f"{name}=", f"{name}={example}")
    gap = " " if name.endswith(":") else ""
    raise CountError(f"{shown}{gap}{shortened(value)} is no whole number of 0 or more; write {write}")


def _flag(name: str, value: Any) -> bool:
    if isinstance(value, bool):
        return value
    raise _refused(name, value, f"is neither yes nor no; write {name}=True or {name}=False")


def _level(name: str, value: Any) -> Any:
    if is_name(value) or (isinstance(value, (int, float)) and abs(value) <= WHOLE):
        return value
    if isinstance(value, str) and len(value) > LONGEST_NAME:
        raise _refused(name, value, f"is too long for a level, which has at most {LONGEST_NAME} letters")
    option = "" if name.endswith(":") else f"{name}="
    raise _refused(name, value, f'is no level; write {option}2500, or {option}"K12" for levels that are no numbers')


def _table(name: str, value: Any) -> Mapping[Any, Any]:
    if isinstance(value, Mapping):
        return {plain(key): plain(one) for key, one in value.items()}
    example = {"scores": "{0: 0, 2500: 1, 5000: 2}", "polynomials": '{"dark_days": 2}'}
    level = shortened(value) if is_name(value) or isinstance(value, (int, float)) else '"level"'
    shown = example.get(name, f'{{"name of a column": {level}}}')
    raise _refused(name, value, f"is no dictionary; write {name}={shown}")


def _numbered(name: str, value: Any) -> Mapping[Any, Any]:
    table = _table(name, value)
    if not table:
        raise _refused(name, value, "names no level; give a number for each, or leave it out")
    for key, one in table.items():
        if isinstance(one, bool) or not isinstance(one, (int, float)):
            raise CountError(f"{name}: {shortened(one)} for {shortened(key)} is not a number; give one for each")
        if abs(one) > WHOLE:
            raise CountError(f"{name}: {shortened(one)} for {shortened(key)} is too large; give smaller numbers")
    return table


def _scored(name: str, value: Any) -> Mapping[Any, Any]:
    """A number for each level, or a day for each."""
    table = _table(name, value)
    dated = bool(table) and all(isinstance(one, (date, str)) for one in table.values())
    return table if dated else _numbered(name, table)


def _of_columns(name: str, value: Any) -> Mapping[Any, Any]:
    table = _table(name, value)
    for key, one in table.items():
        _column(name, key)
        _level(f"{name} of {key!r}:", one)
    return table


def _powers(name: str, value: Any) -> Mapping[Any, Any]:
    return {_column(name, key): _whole(f"{name} of {key!r}:", one) for key, one in _table(name, value).items()}


def _blend(name: str, value: Any) -> Any:
    if is_name(value) or (isinstance(value, Mapping) and value):
        return value
    raise _refused(name, value, "is no choice; write its name in quotation marks, or a dictionary of numbers per level")


def _told(name: str, value: Any) -> Any:
    if callable(value):
        return value
    raise _refused(name, value, f"cannot be called; write {name}=print, or a function of parts finished and expected")


def _listing(name: str, value: Any) -> Any:
    if has_columns(value) or (isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping))):
        return value
    raise CountError(f"{name}={shortened(value)} is no list of numbers; write {name}=[3, 5, 8] with one for each")


def _rows(name: str, value: Any) -> Any:
    # Text and dictionaries are answered where tables are read.
    if has_columns(value) or isinstance(value, Iterable):
        return value
    raise CountError(f"{name}={shortened(value)} is no table; write {name}=[[156, 84], [84, 156]] with rows of counts")


def _strength(name: str, value: Any) -> Any:
    if isinstance(value, Strength):
        return value
    raise _refused(name, value, f'is no strength; write {name}=rl.Strength("IBA", unit="mg/L", method="quick dip")')


def _result(name: str, value: Any) -> Any:
    if isinstance(value, Result):
        return value
    raise _refused(name, value, "is no result; give what a trial or a model answered, for example its take_rates()")


def _choice(values: tuple[str, ...]) -> Check:
    def check(name: str, value: Any) -> str:
        if isinstance(value, str) and value in values:
            return value
        known = ", ".join(values)
        if not isinstance(value, str):
            raise _refused(name, value, f'is none of its values; write {name}="{values[0]}"; the values are {known}')
        near = [one for one in values if len(value) > 2 and one.startswith(value)]
        import difflib

        near = near or difflib.get_close_matches(value[:LONGEST], [one for one in values if one != "none"], 1)
        ask = f'; did you mean "{near[0]}"? Known' if near else "; known"
        shown = value if len(value) <= LONGEST else f"{value[:LONGEST]}..."
        raise ChoiceError(f'{name}= option "{shown}" is not known{ask}: {known}')

    return check


def _pair(name: str, value: Any) -> Any:
    several = isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping))
    parts = list(value) if several else []
    if len(parts) == 2 and all(isinstance(part, Iterable) and not isinstance(part, (str, bytes)) for part in parts):
        return value
    raise CountError(f"{name} is a pair of lists: the blocks of the first arm's trays and of the second arm's")


_CHOICES = {name: get_args(kind) for name, kind in vars(choices).items() if get_args(kind)}
_BY_TYPE: dict[str, Check] = {
    "tuple[Sequence[Any], Sequence[Any]]": _pair,
    "str": _column,
    "str | Sequence[str]": _columns,
    "Sequence[Sequence[str]]": _sets,
    "float": _number,
    "Confidence": _number,
    "int": _whole,
    "bool": _flag,
    "Mapping[str, Any]": _of_columns,
    "Mapping[Any, float]": _numbered,
    "Mapping[Any, float | date | str]": _scored,
    "Mapping[str, int]": _powers,
    "Sequence[int]": _listing,
    "Sequence[float]": _listing,
    "Sequence[Any]": _listing,
    "Sequence[Sequence[int]]": _rows,
    "Sequence[Sequence[Sequence[int]]]": _rows,
    "Strength": _strength,
    "Result": _result,
    "AverageOver": _blend,
    "ContrastPattern": _blend,
    "Progress": _told,
    "Callable[[int, int], object]": _told,
}
_BY_TYPE |= {
    name: _choice(values) for name, values in _CHOICES.items() if all(isinstance(value, str) for value in values)
}
_BY_TYPE["ContrastAdjustment"] = _choice((*get_args(get_args(choices.ContrastAdjustment)[0]), *_CHOICES["Adjustment"]))
_LEVELS = ("first", "second", "against")
_DATA = ("rooted", "stuck", "rooted_1", "stuck_1", "rooted_2", "stuck_2")


def checks_of(function: Callable[..., Any]) -> tuple[list[str], dict[str, tuple[Check, bool]]]:
    """The names of the parameters, and for each that is checked: how, and whether it may be left at None."""
    parameters = inspect.signature(function).parameters
    found: dict[str, tuple[Check, bool]] = {}
    for name, parameter in parameters.items():
        kind = str(parameter.annotation)
        optional = kind.endswith(" | None") or name == "against"
        check = _BY_TYPE.get(kind.removesuffix(" | None"))
        if name == "target":
            check = _single
        if name in _LEVELS and kind == "Any":
            check = _level
        if name in _DATA and kind == "int":
            check = _cuttings
        if check is not None and name != "indent":
            found[name] = check, optional
    return list(parameters), found
