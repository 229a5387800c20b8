"""What a report says around its results: the question of each, and its methods without repetition."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rootling._results import faces_of
from rootling._words import outcomes

if TYPE_CHECKING:
    from rootling._results import Result
    from rootling.watch import Watch

# Kinds of answers that a crop under watch gives, in the order in which a page tells them: what to do first.
WATCHED = ("signals", "target_watched", "batch_chart", "places_watched", "mix_change", "baseline")
# What a page is about where all answers are of one room; any other is about a trial.
TITLES = {
    "watch": "Crop under watch",
    "plan": "Planned trial",
    "seasons": "Seasons together",
    "steps": "From graft to saleable tree",
}
TRIAL = "Rooting trial"
# Rows set aside that a page tells one by one.
MOST = 20

__all__ = ["WATCHED", "aside", "methods", "question", "room_of", "title"]

# The end of a sentence: a word of three letters or more, so that initials and "al." end none.
END = re.compile(r"(?<=[a-z0-9%)]{3}\.)\s+(?=[A-Z])")


def question(result: Result, beside: Sequence[Result] = ()) -> str:
    """The question that a result answers, with the names it is about.

    The outcome leads where it is not the take, or where another one is asked about ``beside`` it.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> question(trial.compare("strength", 2500, 5000))
    'Do strength 2500 and 5000 differ, and by how much?'
    """
    faces = faces_of(result.kind)
    wanted = result.kind.replace("_", " ").capitalize() if faces is None else faces.question
    asked = wanted.format_map(_names(result)) if "{" in wanted else wanted
    outcome = outcomes.of(result)
    told = _is_of_deaths(result) or any(f"{{{word}}}" in wanted for word in outcomes.words(outcome))
    several = {outcomes.of(one) for one in [result, *beside] if not _is_of_deaths(one)} != {"take"}
    return f"{outcomes.words(outcome)['title']}: {asked}" if several and not told else asked


def title(results: Sequence[Result]) -> str:
    """What a page is about, where nobody named it.

    Examples
    --------
    >>> import rootling as rl
    >>> title([])
    'Rooting trial: report'
    """
    rooms = {room_of(one) for one in results}
    return f"{TITLES.get(rooms.pop(), TRIAL) if len(rooms) == 1 else TRIAL}: report"


def room_of(result: Result) -> str:
    """The room of the package that a result comes from: ``"watch"``, ``"plan"``, ``"compare"`` and so on."""
    return type(result).__module__.split(".")[1]


def aside(crop: Watch | None) -> list[str]:
    """Rows of a watched crop that do not enter: the first of each reason, and how many more have it."""
    issues = [] if crop is None else crop.set_aside
    if len(issues) <= MOST:
        return [str(one) for one in issues]
    first = {one.code: one for one in reversed(issues)}
    count = Counter(one.code for one in issues)
    rows = {code: "row" if count[code] == 2 else "rows" for code in first}
    more = {code: f" ({count[code] - 1} more {rows[code]} likewise)" if count[code] > 1 else "" for code in first}
    return [f"{one}{more[code]}" for code, one in sorted(first.items(), key=lambda pair: pair[1].row or 0)]


def _is_of_deaths(result: Result) -> bool:
    faces = faces_of(result.kind)
    return faces is not None and faces.of_deaths


def _names(result: Result) -> dict[str, str]:
    figures: dict[str, Any] = dict(result.numbers)
    names = dict(outcomes.words_of(result))
    names["unit"] = outcomes.called_of(result).replace("_", " ")
    names |= {"first": "the first", "second": "the second", "factor": "the treatment", "by": "level"}
    for name in ("factor", "by"):
        value = figures.get(name)
        if isinstance(value, (list, tuple)):
            value = ", ".join(map(str, value))
        if value:
            names[name] = str(value).replace("_", " ")
    for name in ("first", "second"):
        levels = getattr(figures.get(name), "levels", None)
        if levels:
            names[name] = " / ".join(map(str, levels))
    return names


def methods(told: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """The paragraphs in order, each with its question; what an earlier one said word for word is not said again.

    Examples
    --------
    >>> methods([("Which matter?", "A fit was made. Limits are profiles."), ("Which differ?", "A fit was made.")])
    [('Which matter?', 'A fit was made. Limits are profiles.'), ('Which differ?', 'As said above.')]
    """
    said: set[str] = set()
    kept = []
    for question, paragraph in told:
        new = [part for part in END.split(paragraph) if part not in said]
        said.update(new)
        if paragraph:
            kept.append((question, " ".join(new) or "As said above."))
    return kept
