"""Seasons as callers give them: trials or comparisons, in a list or by their names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rootling._given import is_name, plain, shortened, spelled
from rootling._results import Result
from rootling.compare import Comparison
from rootling.curves import StrengthCurve
from rootling.exceptions import ChoiceError
from rootling.trial import Trial

__all__ = ["COMPARED", "CURVES", "Answered", "given_seasons"]


@dataclass(frozen=True)
class Answered:
    """What may be given in place of a trial: what it answered."""

    of: type[Result[Any]]
    called: str
    made_by: str
    example: str


COMPARED = Answered(
    Comparison,
    "comparison",
    "trial.compare(...)",
    'rl.seasons.pool({"2023": one, "2024": other}, "strength", 2500, 5000)',
)
CURVES = Answered(
    StrengthCurve,
    "strength curve",
    "trial.strength_curve(...)",
    'rl.seasons.pool_curves({"2023": one, "2024": other})',
)

Season = tuple[str | None, Any]


def given_seasons(trials: Any, seasons: Any, answered: Answered) -> list[Season]:
    """Each season with its name, where it has one."""
    if isinstance(trials, Mapping) and "kind" not in trials:
        if seasons is not None:
            raise ChoiceError("seasons= names the entries of a list, and these have names; leave it out")
        names: list[str | None] = [_name(name) for name in trials]
        found = list(trials.values())
    elif isinstance(trials, (Trial, Result, str, bytes, Mapping)) or not isinstance(trials, Iterable):
        raise ChoiceError(
            f"trials={_shown(trials)} is no list of seasons; give several trials or {answered.called}s, for example "
            f"{answered.example}"
        )
    else:
        found = list(trials)
        names = [None] * len(found) if seasons is None else _names(seasons, len(found))
    return [(name, _season(one, at, answered)) for at, (name, one) in enumerate(zip(names, found, strict=True), 1)]


def _shown(given: Any) -> str:
    known = (Trial, Result)
    return f"a single {type(given).__name__}" if isinstance(given, known) else shortened(given)


def _names(seasons: Any, count: int) -> list[str | None]:
    one = isinstance(seasons, (str, bytes, Mapping)) or not isinstance(seasons, Iterable)
    names = [] if one else [_name(name) for name in seasons]
    if len(names) != count:
        raise ChoiceError(
            f"seasons={shortened(seasons)} does not name {count} seasons; give each a name, in the order of the list"
        )
    return list(names)


def _name(given: Any) -> str:
    name = plain(given)
    text = name if isinstance(name, str) else spelled(name) if isinstance(name, (int, float)) else ""
    if isinstance(name, bool) or not is_name(text):
        raise ChoiceError(f"{shortened(given)} is no name of a season; give a year or a text, for example 2024")
    return text


def _season(given: Any, place: int, answered: Answered) -> Any:
    if isinstance(given, (Trial, answered.of)):
        return given
    if isinstance(given, Mapping) and given.get("kind") == answered.of.kind:
        found = Result.from_dict(given)
        if isinstance(found, answered.of):
            return found
    raise ChoiceError(
        f"entry {place} of trials is {_shown(given)}, neither a trial nor a {answered.called}; give trials, or what "
        f"{answered.made_by} answered (a record is read by rl.Result.from_json)"
    )
