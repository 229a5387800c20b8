"""What a report is about, in its title: the trial and its crop, the plan, the chain of steps, the crop under watch."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from rootling.report.words import room_of

if TYPE_CHECKING:
    from rootling._results import Result
    from rootling.trial import Trial

__all__ = ["title"]

TRIAL = "Rooting trial"
# Columns that name what was stuck; treatments that a title names; letters of a name in it; topics of a plan.
CROPS = re.compile("species|crop|cultivar|variety|clone|rootstock|genus")
MOST_TRIED, LONG, TOPICS, SEVERAL = 4, 40, 3, 3
# What answers about a planned trial are about, where no layout says what is planned.
PLANNED = {
    "trays_needed": "how many trays",
    "power": "how often a difference would show",
    "precision": "how narrow the interval would be",
    "smallest_difference": "the smallest difference that would show",
    "looks": "looks before its end",
    "chance_at_end": "whether to go on",
    "best_strength_plan": "trays for the best strength",
    "dealt_anew": "its difference among other layouts",
}
# Answers of the room of steps that are about no chain.
BESIDE = {
    "agreement": "Two readers",
    "early_sign": "An early sign",
    "time_course": "Time to roots",
    "times_compared": "Time to roots",
}
EPOCH = date(1970, 1, 1)


def title(results: Sequence[Result], trials: Sequence[Trial] = ()) -> str:
    """What a page is about, where nobody named it: what was tried, and on which crop where the table says it.

    Examples
    --------
    >>> import rootling as rl
    >>> title([])
    'Rooting trial: report'
    """
    rooms = {room_of(one) for one in results}
    named = OF_ROOMS.get(next(iter(rooms))) if len(rooms) == 1 else None
    if named is not None:
        return named(results)
    tried = list(dict.fromkeys(name for trial in trials for name in _tried(trial)))
    crops = list(dict.fromkeys(name for trial in trials for name in _crops(trial)))
    more = [f"{len(tried) - MOST_TRIED + 1} more treatments"] if len(tried) > MOST_TRIED else []
    shown = tried if not more else [*tried[: MOST_TRIED - 1], *more]
    about = [_listed(shown), *crops]
    return f"{TRIAL}: {', '.join(one for one in about if one) or 'report'}"


def _tried(trial: Trial) -> list[str]:
    """The treatments of a trial, strengths with their substance."""
    strength = trial._core.options["strength"]
    column = trial._core.options["strength_column"] or "strength"
    names = [one["name"] for one in trial._core.units["treatments"]]
    substance = None if strength is None else strength.get("substance")
    return [f"{_cut(name)} of {substance}" if substance and name == column else _cut(name) for name in names]


def _crops(trial: Trial) -> list[str]:
    """Species, clone or cultivar where all of the trial is of one."""
    frame = trial.frame
    tried = {one["name"] for one in trial._core.units["treatments"]}
    named = [name for name in frame.columns if name not in tried and CROPS.fullmatch(name.strip().lower())]
    found = []
    for name in named:
        levels = frame[name].drop_nulls().unique().to_list()
        if len(levels) == 1 and str(levels[0]).strip():
            found.append(f"{name.strip().replace('_', ' ')} {_cut(str(levels[0]))}")
    return found


def _cut(name: str) -> str:
    shown = name.strip().replace("_", " ")
    return shown if len(shown) <= LONG else f"{shown[: LONG - 4]} ..."


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _of_plan(results: Sequence[Result]) -> str:
    """How many trays of which treatments, where they are dealt out; else what was asked of the plan."""
    layout = next((one._record for one in results if one.kind == "layout"), None)
    if layout is None:
        topics = list(dict.fromkeys(PLANNED[one.kind] for one in results if one.kind in PLANNED))
        return f"Planned trial: {_listed(topics[:TOPICS]) or 'report'}"
    tried = [f"{_cut(one['name'])} at {len(one['levels'])} levels" for one in layout["options"]["treatments"]]
    more = [f"{len(tried) - MOST_TRIED + 1} more treatments"] if len(tried) > MOST_TRIED else []
    shown = tried if not more else [*tried[: MOST_TRIED - 1], *more]
    return f"Planned trial: {layout['n_units']} trays, {_listed(shown)}"


def _of_steps(results: Sequence[Result]) -> str:
    """The chain from its first step to its last; of answers about no chain what they are about."""
    chain = next((one._record for one in results if one.kind not in BESIDE and one._record.get("steps")), None)
    if chain is None:
        named = list(dict.fromkeys(BESIDE[one.kind] for one in results if one.kind in BESIDE))
        return f"{_listed(named)}: report" if named else "From graft to saleable tree: report"
    names = list(dict.fromkeys(_cut(str(one["step"])) for one in chain["steps"]))
    steps = [_cut(chain["start"]), *names] if isinstance(chain.get("start"), str) else names
    return (
        f"From {steps[0]} to {steps[-1]}: a chain of {len(steps) - 1} steps"
        if len(steps) > 2
        else f"From {_listed(steps)}"
    )


def _of_crop(results: Sequence[Result]) -> str:
    """By what the crop is looked at, and until when."""
    names = list(dict.fromkeys(name for one in results for name in _groupings(one._record)))
    until = next((one._record["until"] for one in results if isinstance(one._record.get("until"), int)), None)
    told = [f"by {_listed([_cut(name) for name in names])}"] if names else []
    told += [] if until is None else [f"until {(EPOCH + timedelta(days=until)).isoformat()}"]
    return f"Crop under watch: {', '.join(told) or 'report'}"


def _groupings(record: dict[str, Any]) -> list[str]:
    baseline = record.get("baseline")
    found = baseline.get("groupings") if isinstance(baseline, dict) else None
    names = [one.get("name") for one in found or ()]
    names += [one.get("grouping") for one in record.get("charts") or ()] + [record.get("column")]
    return [one for one in names if isinstance(one, str)]


def _of_seasons(results: Sequence[Result]) -> str:
    pooled = (one for one in results if one.kind == "pooled")
    about = [f"{_cut(one.second)} against {_cut(one.first)} of {_cut(one.factor)}" for one in pooled]
    about += ["the best strength"] if any(one.kind == "best_over_seasons" for one in results) else []
    return f"Seasons together: {', '.join(dict.fromkeys(about)) or 'report'}"


def _of_choice(results: Sequence[Result]) -> str:
    return f"A choice in money: levels of {', '.join(dict.fromkeys(_cut(one.factor) for one in results))}"


OF_ROOMS: dict[str, Callable[[Sequence[Result]], str]] = {
    "plan": _of_plan,
    "steps": _of_steps,
    "watch": _of_crop,
    "seasons": _of_seasons,
    "decide": _of_choice,
}
