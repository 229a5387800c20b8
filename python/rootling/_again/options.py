"""Options as records hold them: texts, of which some name several columns or levels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple, cast, get_args

from rootling._given import choices
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.trial import Trial

__all__ = ["Asked", "averaged_as", "levels_of", "number", "options_of", "pattern_of", "seed_of", "stayed_within"]
__all__ += ["within_of"]

AVERAGES = get_args(get_args(choices.AverageOver)[0])


class Asked(NamedTuple):
    """What is found now, and which options the record left open."""

    found: Any
    assumed: tuple[str, ...] = ()


def options_of(record: Result) -> dict[str, str]:
    """The options that were in force, by name."""
    return {str(name): str(value) for name, value in record.made_with["options"]}


def seed_of(record: Result, seed: int | None) -> int:
    """The seed to draw by: the one asked for, else the recorded one; where nothing was drawn any will do."""
    recorded = record.made_with["seed"]
    return seed if seed is not None else 1 if recorded is None else int(recorded)


def number(text: str) -> float | None:
    """A number out of a record; none where it holds none."""
    return float(text) if text else None


def levels_of(trial: Trial) -> dict[str, list[str]]:
    """Every treatment of a trial with its levels."""
    return {one["name"]: list(one["levels"]) for one in trial._core.units["treatments"]}


def within_of(text: str, known: Mapping[str, Iterable[str]]) -> dict[str, str] | None:
    """Levels that a question stayed within; none where the record names some that the data do not have.

    >>> within_of("dark_days 21, rootstock K12", {"rootstock": ["K12"], "dark_days": ["0", "21"]})
    {'dark_days': '21', 'rootstock': 'K12'}
    >>> within_of("", {}), within_of("light dim", {"rootstock": ["K12"]})
    ({}, None)
    """
    if not text:
        return {}
    for name, levels in known.items():
        for level in levels:
            said = f"{name} {level}"
            if text == said:
                return {name: level}
            if text.startswith(f"{said}, "):
                rest = within_of(text[len(said) + 2 :], known)
                if rest is not None:
                    return {name: level, **rest}
    return None


def stayed_within(record: Result, known: Mapping[str, Iterable[str]]) -> dict[str, str]:
    """The levels that a question stayed within, which the data must have."""
    text = options_of(record).get("at", "")
    found = within_of(text, known)
    if found is None:
        raise ChoiceError(f"the record stayed within {text}, which these data do not have")
    return found


def averaged_as(record: Result, ask: Any) -> Result:
    """The answer under the average of the record, which holds it in words."""
    words = options_of(record)["average"]
    for average in AVERAGES:
        found: Result = ask(average)
        if options_of(found)["average"] == words:
            return found
    raise ChoiceError(f"the record holds its average in words ({words}), and not the weights; ask it again by hand")


def pattern_of(record: Result) -> choices.ContrastPattern:
    """Which levels were set against which, where the record holds it by name."""
    pattern = options_of(record)["pattern"]
    if pattern not in get_args(get_args(choices.ContrastPattern)[0]):
        raise ChoiceError(
            "the record holds contrasts of your own by their names, and not their weights; ask it by hand"
        )
    return cast("choices.ContrastPattern", pattern)
