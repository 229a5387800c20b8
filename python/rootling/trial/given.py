"""Treatments, levels and effects as questions of a trial are given them; a wrong one is answered in its right form."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from rootling._given import listed, plain, shortened, spelled
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from rootling.trial.trial import Trial

PAIR = 2


@contextmanager
def one_treatment(trial: Trial, given: Any, question: tuple[str, str]) -> Iterator[None]:
    """Runs a question about one treatment, by its verb and the name of that option.

    What stands in its place is looked at only where it cannot be answered.
    """
    try:
        yield
    except (ChoiceError, TypeError):
        if (reason := _meant(trial, given, *question)) is not None:
            raise ChoiceError(reason) from None
        raise


def _meant(trial: Trial, given: Any, verb: str, option: str) -> str | None:
    """What was meant, with its line; None where the name is that of a column, or near one."""
    value = plain(given)
    several = isinstance(value, Iterable) and not isinstance(value, (str, bytes, Mapping))
    values = [plain(one) for one in value] if several else [value]
    levels = {one["name"]: one["levels"] for one in trial._core.units["treatments"]}
    if not levels or (not several and value in levels):
        return None
    names = [spelled(one) for one in values]
    shown = f"{option}={shortened(value)}"
    if names and all(name in levels for name in names):
        return f"{shown} is a list, and {verb} takes one treatment at a time; write trial.{verb}({names[0]!r})"
    own = next((name for name, known in levels.items() if names and all(one in known for one in names)), None)
    if own is None:
        if isinstance(value, str):
            return None
        known = ", ".join(levels)
        return f"{shown} is no treatment (these are {known}); write trial.{verb}({next(iter(levels))!r})"
    are = f"{'are levels' if len(names) > 1 else 'is a level'} of {own}, and {verb} takes the treatment"
    if verb == "compare_all" and len(names) == PAIR and names[0] != names[1]:
        return f"{shown} {are}; for these two write trial.compare({own!r}, {values[0]!r}, {values[1]!r})"
    return f"{shown} {are} with all its levels; write trial.{verb}({own!r})"


def apart(first: str, second: str | None, what: str) -> None:
    """Nothing can be compared with itself, or be kept apart by itself."""
    if first == second:
        raise ChoiceError(f"{first!r} is named twice as {what}; name two that differ")


def levels_within(trial: Trial, at: Any) -> dict[str, str]:
    """Levels to stay within as the core spells them; a level alone is answered with the column that has it."""
    if at is None or isinstance(at, Mapping):
        return {str(name): spelled(value) for name, value in (at or {}).items()}
    treatments = trial._core.units["treatments"]
    column = next((one["name"] for one in treatments if spelled(at) in one["levels"]), "name of a treatment")
    raise ChoiceError(f'at={shortened(at)} does not say of which column; write at={{"{column}": {shortened(at)}}}')


def strengths_of(trial: Trial, given: str | None) -> str:
    """The treatment that holds the strengths: as given, as declared, or the one of that name."""
    options = trial._core.options
    found = given or options["strength_column"] or "strength"
    if given is None and found not in options["treatments"]:
        first = next(iter(options["treatments"]), found)
        known = ", ".join(shortened(name)[1:-1] for name in options["treatments"][:5])
        raise ChoiceError(
            f"no treatment is called {shortened(found)}; say which holds the strengths, for example "
            f"strength={shortened(first)}; the treatments are {known}"
        )
    return str(found)


def columns_of(trial: Trial) -> list[str]:
    """The columns that a model can take in."""
    units = trial._core.units
    places = (units[name] for name in ("tray", "block", "whole_plot", "season", "stock_plant"))
    return [one["name"] for one in (*units["treatments"], *places, *units["covariates"]) if one is not None]


def effects_of(effects: Any, known: Sequence[str]) -> list[str]:
    """The effects as a list; a formula, which is no name of a column, is answered with the list that it means.

    >>> effects_of(["strength", "rootstock"], ["strength", "rootstock"])
    ['strength', 'rootstock']
    """
    names = listed(effects)
    for name in names:
        parts = [part.strip() for part in re.split(r"[+*:~]", str(name)) if part.strip()]
        if name not in known and len(parts) > 1 and set(parts) & set(known):
            both = f", interactions=[{tuple(parts)!r}]" if "+" not in name else ""
            raise ChoiceError(f"{name!r} is no name of a column; write the effects as a list: model({parts!r}{both})")
    return names


def pairs_of(interactions: Any) -> list[list[str]]:
    """Interactions as lists of names; what is written otherwise is answered with the right form.

    >>> pairs_of([("strength", "rootstock")])
    [['strength', 'rootstock']]
    """
    if not isinstance(interactions, str) and all(
        not isinstance(names, str) and len(list(names)) > 1 for names in interactions
    ):
        return [list(names) for names in interactions]
    given = [interactions] if isinstance(interactions, str) else list(interactions)
    texts = [name for one in given for name in ([one] if isinstance(one, str) else one)]
    parts = list(dict.fromkeys(part for text in texts for part in re.split(r"[+*:]| x ", str(text)) if part.strip()))
    names = tuple(part.strip() for part in parts) if len(parts) > 1 else ("strength", "rootstock")
    raise ChoiceError(f"interactions={interactions!r} is no list of pairs of effects; write interactions=[{names!r}]")
