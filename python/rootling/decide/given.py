"""Days, seasons pooled and a next trial as callers give them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rootling._given import plain, shortened, spelled
from rootling._results import Result
from rootling.decide.money import Purse
from rootling.exceptions import ChoiceError

__all__ = ["days_of", "next_trial_of", "pooled_of", "share_limits"]

POOLED = 'rl.seasons.pool({"2023": one, ...}, "strength", 2500, 5000)'
NEXT = {"trays": 8, "cuttings": 20, "cost": 500}


def _number(given: Any, name: str, example: str) -> float:
    value = plain(given)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ChoiceError(f"{name}={shortened(given)} holds no number; give {example}")
    return float(value)


def _by_level(given: Mapping[Any, Any], name: str) -> dict[str, float]:
    """Numbers by level, the levels as the core spells them."""
    example = f"{name}={{5000: 28}}"
    return {spelled(level): _number(value, name, example) for level, value in given.items()}


def days_of(given: Any) -> float | dict[str, float] | None:
    """Days of darkness: one number, or one for each level."""
    if given is None:
        return None
    if isinstance(given, Mapping):
        return _by_level(given, "days")
    return _number(given, "days", "days=28, or days={5000: 28}")


def share_limits(given: Any) -> tuple[float, float] | None:
    """The limits of the saleable share."""
    if given is None:
        return None
    pair = list(given) if isinstance(given, (list, tuple)) else []
    if len(pair) != 2:
        raise ChoiceError(
            f"saleable_limits={shortened(given)} is no pair; give lower and upper limit, for example (0.7, 0.88)"
        )
    low, high = (_number(one, "saleable_limits", "two shares, for example (0.7, 0.88)") for one in pair)
    return low, high


def pooled_of(given: Any) -> dict[str, Any] | None:
    """What seasons pooled tell of how they differ."""
    if given is None:
        return None
    found = Result.from_dict(given) if isinstance(given, Mapping) and "kind" in given else given
    if not isinstance(found, Result) or found.kind != "pooled":
        shown = type(given).__name__ if isinstance(given, Result) else shortened(given)
        raise ChoiceError(f"pooled={shown} is not what seasons pooled are answered with; give {POOLED}")
    numbers: Any = found
    return {
        "treatment": numbers.factor,
        "first": numbers.first,
        "second": numbers.second,
        "n_seasons": numbers.n_seasons,
        "spread": numbers.spread,
    }


def next_trial_of(given: Any, purse: Purse) -> dict[str, Any] | None:
    """The trial that may come next."""
    if given is None:
        return None
    example = f"next_trial={NEXT}"
    if not isinstance(given, Mapping) or set(given) != set(NEXT):
        raise ChoiceError(
            f"next_trial={shortened(given)} does not say trays of each level, cuttings of each tray and cost; "
            f"write {example}"
        )
    found: dict[str, Any] = {"cost": purse.amount("next_trial cost", given["cost"], "cost")}
    for name in ("trays", "cuttings"):
        value = _number(given[name], name, example)
        if not value.is_integer() or value < 0:
            raise ChoiceError(f"{name}={shortened(given[name])} of next_trial is no whole number; write {example}")
        found[name] = int(value)
    return found
