"""Treatments, plants, readers and blocks as callers give them, brought to the form of the core."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import Any

from rootling._given import is_name, plain, shortened, spelled
from rootling.exceptions import ChoiceError

__all__ = ["apart", "count_of", "levels_of", "names_of", "positions_of", "sharing_of"]

MANY = 5000
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


def levels_of(treatments: Any) -> list[dict[str, Any]]:
    """Treatments by name with their levels as the core spells them."""
    example = '{"strength": [0, 2500, 5000]}'
    if not isinstance(treatments, Mapping):
        raise ChoiceError(f"treatments={shortened(treatments)} is no dictionary; write treatments={example}")
    found = []
    for name, levels in treatments.items():
        if not is_name(name):
            raise ChoiceError(f"treatments: {shortened(name)} is no name; write treatments={example}")
        found.append({"name": name, "levels": _list("treatments", levels, f'treatments={{"{name}": [0, 2500]}}')})
    return found


def apart(name: str, levels: Iterable[str]) -> None:
    """Refuses levels that a sheet which comes back could not tell apart."""
    seen: dict[str, str] = {}
    for level in levels:
        other = seen.setdefault(_bare(level), level)
        if other != level:
            raise ChoiceError(
                f"{shortened(name)}: {shortened(other)} and {shortened(level)} differ only by case, spaces or how a "
                "number is written, which a spreadsheet may change; name them so that they stay apart"
            )


def _bare(level: str) -> str:
    """A level without case, spaces and the spelling of its number.

    >>> _bare(" K 12"), _bare("007") == _bare("7.0"), _bare("1E5") == _bare("100000")
    ('k12', True, True)
    """
    bare = "".join(level.split())
    number = float(bare) if NUMBER.fullmatch(bare) and len(bare) <= 15 else math.nan
    return repr(number) if math.isfinite(number) else bare.lower()


def count_of(option: str, value: Any, example: int) -> Any:
    """A whole number, or None; its size is the core's to judge."""
    value = plain(value)
    whole = (isinstance(value, int) and not isinstance(value, bool)) or (
        isinstance(value, float) and value.is_integer()
    )
    if value is None or whole:
        return value if value is None else int(value)
    found = re.fullmatch(r"\s*([1-9][0-9]{0,4})\b.*", value) if isinstance(value, str) else None
    line = f"{option}={found[1] if found else example}"
    raise ChoiceError(f"{option}={shortened(value)} is no whole number; write {line}")


def names_of(option: str, value: Any) -> list[str]:
    """So many things by number, or the names that they have."""
    value = plain(value)
    if value is None:
        return []
    if isinstance(value, int) and not isinstance(value, bool):
        if not 0 < value <= MANY:
            raise ChoiceError(f"{option}={shortened(value)} is not a number from 1 to {MANY}; write {option}=4")
        return [str(at + 1) for at in range(value)]
    return _list(option, value, f'{option}=4, or {option}=["north", "south"]')


def sharing_of(option: str, value: Any) -> dict[str, Any] | None:
    """Plants or readers: so many, their names, or a treatment with those of each level."""
    value = plain(value)
    if value is None:
        return None
    if not isinstance(value, Mapping):
        return {"names": names_of(option, value)}
    example = f'{option}={{"rootstock": {{"K12": ["a", "b"], "K17": ["c", "d"]}}}}'
    if len(value) != 1 or not all(map(is_name, value)) or not isinstance(next(iter(value.values())), Mapping):
        raise ChoiceError(
            f"{option}={shortened(value)} does not say which treatment's levels it is of; write {example}"
        )
    ((treatment, by_level),) = value.items()
    own = [
        {"name": spelled(level), "levels": _of_level(option, spelled(level), names)}
        for level, names in by_level.items()
    ]
    return {"treatment": treatment, "by_level": own}


def positions_of(value: Any) -> tuple[int, int] | None:
    """Rows and columns of a bench."""
    if value is None:
        return None
    parts = [plain(one) for one in value] if isinstance(value, (tuple, list)) else []
    if len(parts) == 2 and all(isinstance(one, int) and not isinstance(one, bool) and 0 < one <= MANY for one in parts):
        return parts[0], parts[1]
    told = re.findall(r"[0-9]+", value) if isinstance(value, str) else []
    fits = len(told) == 2 and all(len(one) < 5 and int(one) for one in told)
    example = f"({int(told[0])}, {int(told[1])})" if fits else "(2, 6)"
    raise ChoiceError(f"positions={shortened(value)} is no pair of rows and columns; write positions={example}")


def _of_level(option: str, level: str, names: Any) -> list[str]:
    names = plain(names)
    if isinstance(names, int) and not isinstance(names, bool):
        # Plants of different kinds are different plants.
        return [f"{level}-{one}" for one in names_of(option, names)]
    return [names] if is_name(names) else names_of(option, names)


def _list(option: str, value: Any, example: str) -> list[str]:
    value = value.tolist() if hasattr(value, "tolist") else value
    if isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping)):
        found = [spelled(plain(one)) for one in value if isinstance(plain(one), (str, int, float, bool))]
        if len(found) == len(list(value)) and all(map(is_name, found)):
            return found
    raise ChoiceError(f"{option}: {shortened(value)} is no list of names or numbers; write {example}")
