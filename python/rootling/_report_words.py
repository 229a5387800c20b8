"""What a report says around its results: the question of each, and its methods without repetition."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from rootling import _outcome

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["methods", "question"]

QUESTIONS = {
    "take_rates": "What share of the {cuttings} {rooted}?",
    "tray_correlation": "How alike are cuttings of one {unit}?",
    "comparison": "Do {first} and {second} differ, and by how much?",
    "all_comparisons": "Which levels of {factor} differ?",
    "association": "Does {rooting} go with {factor}?",
    "trend": "Does {the_take} rise or fall along the levels of {factor}?",
    "randomisation": "Do the two differ when trays are dealt out again?",
    "equivalence": "Are the two alike within the margin?",
    "what_matters": "Which treatments matter?",
    "odds_ratios": "How strongly does each level act, as odds ratios?",
    "coefficients": "How strongly does each level act, as coefficients?",
    "adjusted_rates": "What {rate} is to be expected of each {by}, other things alike?",
    "contrasts": "Which levels of {by} differ, other things alike?",
    "letters": "Which levels of {by} are told apart?",
    "predictions": "What {rate} is to be expected?",
    "checks": "Does the model hold?",
    "model_comparison": "Does the larger model say more?",
    "bootstrap_test": "Does the effect stand against trials drawn without it?",
    "strength_curve": "Which strength is best, and which is enough?",
    "strengths_for": "Which strength gives the wanted {rate}?",
    "curve_differences": "Do the curves differ?",
    "next_strengths": "Which strengths should be tried next?",
    "damage_threshold": "Where do deaths begin to rise?",
    "response_surface": "How does the best strength shift?",
    "target_test": "Does the take reach the target?",
    "equality_test": "Do the two rates differ?",
    "chi_square": "Do rows and columns go together?",
    "fisher": "Do the two groups differ?",
    "freeman_halton": "Do rows and columns go together?",
    "three_way": "Does one effect depend on the other?",
    "stratified": "Do the two differ within strata?",
    "paired": "Do the two differ within pairs?",
    "unconditional_test": "Do the two groups differ?",
    "plain_trend": "Does the rate rise or fall along the groups?",
    "linear_by_linear": "Do the two orders go together?",
}

# The end of a sentence: a word of three letters or more, so that initials and "al." end none.
END = re.compile(r"(?<=[a-z0-9%)]{3}\.)\s+(?=[A-Z])")


# Questions about deaths, whatever else was counted.
OF_DEATHS = ("damage_threshold",)


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
    wanted = QUESTIONS.get(result.kind, result.kind.replace("_", " ").capitalize())
    asked = wanted.format_map(_names(result)) if "{" in wanted else wanted
    outcome = _outcome.of(result)
    told = result.kind in OF_DEATHS or any(f"{{{word}}}" in wanted for word in _outcome.words(outcome))
    several = {_outcome.of(one) for one in [result, *beside] if one.kind not in OF_DEATHS} != {"take"}
    return f"{_outcome.words(outcome)['title']}: {asked}" if several and not told else asked


def _names(result: Result) -> dict[str, str]:
    figures: dict[str, Any] = dict(result.numbers)
    names = dict(_outcome.words_of(result))
    names["unit"] = _outcome.called_of(result).replace("_", " ")
    names |= {"first": "the first", "second": "the second", "factor": "the treatment", "by": "level"}
    for name in ("factor", "by"):
        value = figures.get(name)
        if isinstance(value, (list, tuple)):
            value = ", ".join(map(str, value))
        if value:
            names[name] = str(value).replace("_", " ")
    if result.kind == "association" and "by" in names and names["factor"] == "the treatment":
        names["factor"] = names["by"]
    for name in ("first", "second"):
        levels = getattr(figures.get(name), "levels", None)
        if levels:
            names[name] = " / ".join(map(str, levels))
    if result.kind == "comparison":
        names["first"] = f"{names['factor']} {names['first']}"
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
