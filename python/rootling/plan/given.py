"""Treatments, plants, readers and blocks as callers give them, brought to the form of the core."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rootling._given import is_name, plain, shortened, spelled
from rootling.exceptions import ChoiceError

__all__ = ["levels_of", "names_of", "positions_of", "sharing_of"]

MANY = 5000


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
    raise ChoiceError(f"positions={shortened(value)} is no pair of rows and columns; write positions=(2, 6)")


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
