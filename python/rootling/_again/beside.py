"""Numbers recorded and found, side by side, and the error of those that were drawn."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from rootling._results import PARTS

__all__ = ["Leaves", "error_beside", "is_number", "leaves_of", "same", "shown_place", "unlike"]

Place = tuple[Any, ...]
Leaves = dict[Place, Any]
NOTHING: tuple[Any, ...] = (..., None, ())
# Digits that processors and their libraries do not share; what differs by less is the same number.
LAST_DIGITS = 1e-9
# What a record holds beside what was found: the question itself, and how the search went.
NOT_FOUND = {*PARTS, "seed", "units", "spec", "data_fingerprint", "convergence"}


def leaves_of(record: Mapping[str, Any]) -> Leaves:
    """Every number and word that was found, by its place in the record."""
    return {place: value for name in record if name not in NOT_FOUND for place, value in _walk((name,), record[name])}


def _walk(place: Place, value: Any) -> Iterator[tuple[Place, Any]]:
    if isinstance(value, Mapping):
        for name, one in value.items():
            yield from _walk((*place, name), one)
    elif isinstance(value, (list, tuple)):
        if not value:
            yield place, ()
        for at, one in enumerate(value):
            yield from _walk((*place, at), one)
    else:
        yield place, value


def unlike(recorded: Leaves, found: Leaves) -> list[Place]:
    """The places at which the two are not the same to the last digit, in their order."""
    places = dict.fromkeys([*recorded, *found])
    return [one for one in places if not _identical(recorded.get(one, ...), found.get(one, ...))]


def _identical(recorded: Any, found: Any) -> bool:
    # What is not there, what holds nothing and an empty list say the same.
    if recorded in NOTHING or found in NOTHING:
        return recorded in NOTHING and found in NOTHING
    both = isinstance(recorded, float) and isinstance(found, float)
    return recorded is found or recorded == found or (both and math.isnan(recorded) and math.isnan(found))


def is_number(value: Any) -> bool:
    """True for numbers, which true and false are not."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def same(recorded: Any, found: Any) -> bool:
    """True for numbers that differ in their last digits only.

    >>> same(0.1 + 0.2, 0.3), same(0.3, 0.3001), same(0.3, "0.3")
    (True, False, False)
    """
    if not (is_number(recorded) and is_number(found)):
        return False
    return math.isclose(recorded, found, rel_tol=LAST_DIGITS, abs_tol=1e-12)


def shown_place(place: Place) -> str:
    """A place in words: entries of lists are counted from 1.

    >>> shown_place(("pairs", 1, "p_adjusted"))
    'pairs 2, p_adjusted'
    """
    said = ""
    for one in place:
        said += f" {one + 1}" if isinstance(one, int) else f", {one}" if said else str(one)
    return said


# Shares of draws, by the last name of their place.
OF_DRAWS = ("p", "most_often")
# Under which names errors of drawing stand beside a number.
STATED = {"p": ("p_error", "monte_carlo_error"), "power": ("error",), "value": ("value_error",)}


def error_beside(leaves: Leaves, place: Place) -> float | None:
    """The error that a record states of a number that was drawn; none where it states none.

    A P value of the association is that of its test by dealing trays anew, whose error stands with the whole.
    """
    name, within = place[-1], place[:-1]
    for beside in STATED.get(name, ()):
        error: Any = leaves.get((*within, beside))
        if is_number(error):
            return float(error)
    if name == "p" and (leaves.get((*within, "drawn")) or leaves.get((*within, "method")) == "randomisation"):
        error = leaves.get((*within, "se"), leaves.get(("se",)))
        return float(error) if is_number(error) else None
    draws = leaves.get((*within, "draws"), leaves.get(("draws",)))
    share = leaves.get(place)
    if name in OF_DRAWS and is_number(draws) and draws and is_number(share):
        inner = min(max(share, 1 / (draws + 1)), draws / (draws + 1))
        return math.sqrt(inner * (1 - inner) / draws)
    return None
