"""What a report says around its results: the question of each, and its methods without repetition."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rootling._results import faces_of
from rootling._words import outcomes

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["methods", "question"]

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
