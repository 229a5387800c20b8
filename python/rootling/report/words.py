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
# Answers to what has to be decided, of which the first leads a page.
DECIDED = (
    *("comparison", "all_comparisons", "strength_curve", "response_surface", "contrasts", "trend", "association"),
    *("signals", "trays_needed", "power", "smallest_difference", "best_strength_plan", "layout"),
    *("yield_comparison", "yields_by_level", "start_numbers", "times_compared"),
    *("level_choice", "pooled", "best_over_seasons", "response_comparison", "grades"),
)
# Rows set aside that a page tells one by one.
MOST = 20

__all__ = ["WATCHED", "aside", "in_order", "methods", "question", "questions", "room_of"]

# The end of a sentence: a word of three letters or more, so that initials and "al." end none.
END = re.compile(r"(?<=[a-z0-9%)]{3}\.)\s+(?=[A-Z(])")


def question(result: Result, beside: Sequence[Result] = ()) -> str:
    """The question that a result answers, with the names it is about.

    The outcome leads where it is not the take, or where another one is asked about ``beside`` it. What it stayed within
    and the margin stand at its end.

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
    asked = " ".join(wanted.format_map(_names(result)).split()) if "{" in wanted else wanted
    outcome = outcomes.of(result)
    told = _is_of_deaths(result) or any(f"{{{word}}}" in wanted for word in outcomes.words(outcome))
    several = {outcomes.of(one) for one in [result, *beside] if not _is_of_deaths(one)} != {"take"}
    asked = _with(asked, _held(result))
    return f"{outcomes.words(outcome)['title']}: {asked}" if several and not told else asked


def questions(results: Sequence[Result]) -> list[str]:
    """The question of each; those that would read alike are told apart by the options in which they differ."""
    asked = [question(one, results) for one in results]
    for same in {one for one, times in Counter(asked).items() if times > 1}:
        places = [at for at, one in enumerate(asked) if one == same]
        options = [_options(results[at]) for at in places]
        apart = [name for name in dict.fromkeys(name for one in options for name in one) if _differ(options, name)]
        for number, (at, own) in enumerate(zip(places, options, strict=True), 1):
            told = [_told(name, own[name]) for name in apart if own.get(name)]
            asked[at] = _with(same, told or ([f"{number} of {len(places)}"] if not apart else []))
    return asked


def _told(name: str, value: str) -> str:
    return f"{100 * float(value):g} % limits" if name == "confidence" else f"{name.replace('_', ' ')} {value}"


def _options(result: Result) -> dict[str, str]:
    """The options of a question in their words, without those that it tells already."""
    found = {str(name): str(value) for name, value in result._record["made_with"].get("options") or ()}
    seed = result._record["made_with"].get("seed")
    return {**found, "seed": "" if seed is None else str(seed)}


def _differ(options: Sequence[dict[str, str]], name: str) -> bool:
    return len({one.get(name, "") for one in options}) > 1


def _held(result: Result) -> list[str]:
    """What a question stayed within, and its margin."""
    at = _options(result).get("at", "").strip()
    margin = result._record.get("margin")
    told = [at.replace("_", " ")] if at else []
    within = result._record.get("within")
    told += [f"within each {within.replace('_', ' ')}"] if isinstance(within, str) and within else []
    if isinstance(margin, (int, float)) and not isinstance(margin, bool):
        ratio = result._record.get("scale") in ("ratio", "odds")
        told.append(f"margin {margin:g}" if ratio else f"margin {100 * margin:g} per 100")
    return told


def _with(asked: str, told: Sequence[str]) -> str:
    """A question with what it is about in brackets before its mark."""
    if not told:
        return asked
    said = ", ".join(told)
    return f"{asked[:-1]} ({said})?" if asked.endswith("?") else f"{asked} ({said})"


def in_order(results: Sequence[Result]) -> list[Result]:
    """The results as they were given, but for the first answer to what has to be decided: that leads."""
    # Of a plan what it has leads, whatever else was asked of it.
    laid_out = next((one for one in results if one.kind == "layout"), None)
    main = laid_out or next((one for one in results if one.kind in DECIDED), None)
    return list(results) if main is None else [main, *(one for one in results if one is not main)]


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
    return names | _strengths(result, names)


def _strengths(result: Result, names: dict[str, str]) -> dict[str, str]:
    """Two strengths compared with their unit and substance in place of the column's name."""
    known = result._record["made_with"].get("strength")
    factor = result._record.get("factor")
    if not isinstance(known, dict) or not factor or known.get("column") != factor or "levels" in names:
        return {}
    said = f"{known.get('unit') or ''} {known.get('substance') or ''}".strip()
    return {"factor": "", "second": f"{names['second']} {said}"} if _is_number(names["second"]) else {}


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def methods(told: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """The paragraphs of one section in order, each with its question.

    Sentences that an earlier paragraph said word for word are not said again; a paragraph of such sentences alone is
    said once more, unless the one right above it is the same.

    Examples
    --------
    >>> methods([("Which matter?", "A fit was made. Limits are profiles."), ("Which differ?", "A fit was made.")])
    [('Which matter?', 'A fit was made. Limits are profiles.'), ('Which differ?', 'A fit was made.')]
    >>> methods([("Which matter?", "A fit was made."), ("Which differ?", "A fit was made.")])[1]
    ('Which differ?', 'As said above.')
    """
    said: set[str] = set()
    kept = []
    above = ""
    for question, paragraph in told:
        new = [part for part in END.split(paragraph) if part not in said]
        said.update(new)
        if paragraph:
            kept.append((question, " ".join(new) or ("As said above." if paragraph == above else paragraph)))
        above = paragraph
    return kept
