"""What is expected of a trial, as callers give it, and as the core reads it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from numbers import Integral, Real
from typing import Any, TypeAlias

from rootling._given import is_name, plain, shortened, spelled
from rootling.exceptions import ChoiceError, CountError
from rootling.trial import earlier_records

Takes: TypeAlias = Any
Whole: TypeAlias = int | Sequence[int]
Share: TypeAlias = float | Sequence[float]


def take(value: Any, at: str) -> float:
    """A take as a proportion; one given in percent is told how to write it."""
    value = plain(value)
    if isinstance(value, bool) or not isinstance(value, Real):
        raise CountError(
            f"the expected take of {at} is {shortened(value)}, no number; give it as a proportion, like 0.6"
        )
    number = float(value)
    if 1 < number <= 100:
        raise CountError(
            f"an expected take of {number:g} is no proportion; write {number / 100:g} for {number:g} of 100 cuttings"
        )
    return number


def takes(given: Takes) -> tuple[list[float], list[str], int]:
    """Takes one after the other, names of levels where they have any, and the levels of a second treatment."""
    given = given.tolist() if hasattr(given, "tolist") else plain(given)
    if isinstance(given, Mapping):
        names = [spelled(level) for level in given]
        return [take(one, f"level {name}") for name, one in zip(names, given.values(), strict=True)], names, 0
    if isinstance(given, Real) and not isinstance(given, bool):
        return [take(given, "level 1")], [], 0
    if isinstance(given, (set, frozenset)):
        raise ChoiceError("takes= is a set, which has no order; write takes=(0.60, 0.75), the first level first")
    if is_name(given) or not isinstance(given, Iterable):
        raise ChoiceError(f"takes={shortened(given)} is no list of expected takes; write takes=(0.60, 0.75)")
    rows = [one.tolist() if hasattr(one, "tolist") else plain(one) for one in given]
    if any(isinstance(one, Iterable) and not isinstance(one, str) for one in rows):
        return _crossed(rows)
    return [take(one, f"level {at}") for at, one in enumerate(rows, 1)], [], 0


def _crossed(rows: Sequence[Any]) -> tuple[list[float], list[str], int]:
    lists = [list(row) if isinstance(row, Iterable) and not isinstance(row, str) else [] for row in rows]
    sizes = {len(row) for row in lists}
    if len(sizes) != 1 or sizes == {0}:
        raise ChoiceError(
            "takes= is no table: its rows hold different numbers of takes; write takes=[[0.3, 0.5], [0.3, 0.75]], "
            "a row for each level of the first treatment"
        )
    found = [take(one, f"row {at}") for at, row in enumerate(lists, 1) for one in row]
    return found, [], sizes.pop()


def whole(name: str, given: Any) -> list[int]:
    """One whole number or several."""
    given = given.tolist() if hasattr(given, "tolist") else plain(given)
    several = list(given) if isinstance(given, Iterable) and not isinstance(given, (str, bytes, Mapping)) else [given]
    several = [int(one) if isinstance(one, float) and one.is_integer() else one for one in several]
    for one in several:
        if isinstance(one, bool) or not isinstance(one, Integral) or not 0 < int(one) < 2**53:
            raise CountError(f"{name}={shortened(one)} is no whole number above 0; write {name}=8, or a list of them")
    return [int(one) for one in several]


def shares(name: str, given: Any) -> list[float]:
    """One number or several."""
    given = given.tolist() if hasattr(given, "tolist") else plain(given)
    if given is None:
        return []
    several = list(given) if isinstance(given, Iterable) and not isinstance(given, (str, bytes, Mapping)) else [given]
    for one in several:
        if isinstance(one, bool) or not isinstance(one, Real):
            raise CountError(f"{name}={shortened(one)} is no number; write {name}=0.05, or a list of them")
    return [float(one) for one in several]


# What only some questions use.
OF_QUESTION = {"margin": ("not-worse", "equivalent"), "target": ("target",), "scores": ("trend",)}


def _strengths(names: Sequence[str]) -> list[float] | None:
    """Levels that are numbers are where they stand, as in a trial."""
    try:
        return [float(name) for name in names] or None
    except ValueError:
        return None


def options(expected: Takes, trays: Any, cuttings: Any, correlation: Any, **more: Any) -> dict[str, Any]:
    """All that is asked, as the core reads it; what is none stays as the core has it."""
    levels = takes(expected)
    trial = {"takes": levels[0], "columns": levels[2]}
    renamed = {"blocks": "block_trays", "block_spread": "block_sd", "bays": "bays", "bay_spread": "bay_sd"}
    for name, field in renamed.items():
        if (value := more.pop(name, None)) is not None:
            trial[field] = value
    for name in ("law", "lost"):
        if (value := more.pop(name, None)) is not None:
            trial[name] = value
    question = more.get("question", "difference")
    scores = more.pop("scores", None)
    for name, value in {"margin": more.get("margin"), "target": more.get("target"), "scores": scores}.items():
        if value is not None and question not in OF_QUESTION[name]:
            asked = " or ".join(f'"{one}"' for one in OF_QUESTION[name])
            raise ChoiceError(f'{name}= belongs to question={asked}, and question="{question}" does not use it')
    if more.get("earlier") is not None and correlation is not None:
        raise ChoiceError("correlation= and earlier= both say how alike cuttings of a tray are; give one of the two")
    if question == "trend" and scores is None:
        scores = _strengths(levels[1])
    found = {
        "trial": trial,
        "levels": levels[1],
        "trays": whole("trays", trays),
        "cuttings": whole("cuttings", cuttings),
        "correlation": shares("correlation", correlation),
        "earlier": earlier_records(more.pop("earlier", None)),
        "scores": None if scores is None else shares("scores", scores),
        **more,
    }
    return {name: value for name, value in found.items() if value is not None}
