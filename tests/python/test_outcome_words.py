"""Every verb in every outcome, every face: asked of survival, only lines on other outcomes speak of rooting."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import rootling as rl
from rootling._results import Result, display
from rootling.report import words

# Rooted and dead of 20 in each tray: a strength that roots and kills.
ROOTED = {0: [2, 3, 2, 4], 4000: [13, 12, 14, 12], 8000: [8, 7, 9, 8]}
DEAD = {0: [1, 0, 1, 2], 4000: [2, 1, 3, 2], 8000: [7, 8, 6, 9]}
OUTCOMES = ("take", "survival", "rooted-of-survivors")

# The word as a noun; as a verb it belongs to no outcome.
VERB = re.compile(
    r"\btakes? (it|them|this|that|out|no|place|places|part|care|in|up|little)\b"
    r"|\bsigned root\b|\btheir roots by t\b|\bgroupings take\b",
    re.IGNORECASE,
)
OF_ROOTING = re.compile(r"\b(takes?|roots?|rooted|rooting|trees)\b", re.IGNORECASE)
OF_SURVIVAL = re.compile(r"\b(surviv\w+|alive)\b", re.IGNORECASE)
BESIDE_NOTES = {"take", "survival", "rooted_of_survivors", "deaths_recorded"}
NAMES = ("Take: ", "Survival: ", "Rooted of survivors: ")


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    rows = [(level, rooted, dead) for level in ROOTED for rooted, dead in zip(ROOTED[level], DEAD[level], strict=True)]
    data = {
        "strength": [level for level, _, _ in rows],
        "rooted": [rooted for _, rooted, _ in rows],
        "dead": [dead for _, _, dead in rows],
        "stuck": [20] * len(rows),
        "tray": list(range(1, len(rows) + 1)),
        "bench": [1, 2, 3, 4] * 3,
    }
    iba = rl.Strength("IBA", unit="mg/L", method="quick dip")
    roles = {"rooted": "rooted", "stuck": "stuck", "dead": "dead", "tray": "tray", "block": "bench"}
    return rl.load_trial(data, treatments=["strength"], strength=iba, **roles)


def fitted(trial: rl.Trial, outcome: str, **options: Any) -> rl.models.Model:
    return trial.model(["strength"], outcome=outcome, **options)


VERBS: dict[str, Callable[[rl.Trial, str], Result]] = {
    "take_rates": lambda trial, outcome: trial.take_rates("strength", outcome=outcome),
    "compare": lambda trial, outcome: trial.compare("strength", 0, 8000, outcome=outcome),
    "compare, without trays": lambda trial, outcome: trial.compare(
        "strength", 0, 8000, outcome=outcome, trays="ignore"
    ),
    "compare, a margin": lambda trial, outcome: trial.compare("strength", 4000, 0, outcome=outcome, margin=0.3),
    "compare_all": lambda trial, outcome: trial.compare_all("strength", outcome=outcome),
    "compare_all, a control": lambda trial, outcome: trial.compare_all("strength", against=0, outcome=outcome),
    "association": lambda trial, outcome: trial.association("strength", outcome=outcome),
    "association, without trays": lambda trial, outcome: trial.association("strength", outcome=outcome, trays="ignore"),
    "trend": lambda trial, outcome: trial.trend("strength", outcome=outcome),
    "trend, without trays": lambda trial, outcome: trial.trend("strength", outcome=outcome, trays="ignore"),
    "what_matters": lambda trial, outcome: fitted(trial, outcome).what_matters(),
    "odds_ratios": lambda trial, outcome: fitted(trial, outcome).odds_ratios(),
    "coefficients": lambda trial, outcome: fitted(trial, outcome).coefficients(),
    "adjusted_rates": lambda trial, outcome: fitted(trial, outcome).adjusted_rates("strength"),
    "contrasts": lambda trial, outcome: fitted(trial, outcome).contrasts("strength", against=0),
    "contrasts, ratios": lambda trial, outcome: fitted(trial, outcome).contrasts("strength", scale="ratio"),
    "letters": lambda trial, outcome: fitted(trial, outcome).letters("strength"),
    "predict": lambda trial, outcome: fitted(trial, outcome).predict({"strength": [0, 8000]}, new_tray=20),
    "checks": lambda trial, outcome: fitted(trial, outcome).checks(),
    "penalised": lambda trial, outcome: fitted(trial, outcome, penalised=True).adjusted_rates("strength"),
    "random trays": lambda trial, outcome: fitted(trial, outcome, trays="random").adjusted_rates("strength"),
    "curve": lambda trial, outcome: trial.strength_curve(outcome=outcome),
    "curve, random trays": lambda trial, outcome: trial.strength_curve(outcome=outcome, trays="random"),
    "strengths for a rate": lambda trial, outcome: trial.strength_curve(outcome=outcome).strength_for(0.6),
    "next trial": lambda trial, outcome: trial.strength_curve(outcome=outcome).next_strengths(trays=12),
}


def asked(trial: rl.Trial, verb: str, outcome: str) -> Result:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return VERBS[verb](trial, outcome)


def lines(result: Result) -> Iterator[tuple[str, str]]:
    """All that is read, but for lines that name another outcome and tell of it."""
    sentence = result.sentence
    for tail in ("; the take ", "; survival differs"):
        sentence = sentence.split(tail)[0]
    yield "sentence", sentence
    for line in result.details:
        if not line.startswith(NAMES) and "beside the take" not in line:
            yield "details", line
    for note in result.notes:
        if note.code not in BESIDE_NOTES:
            yield f"note {note.code}", note.text
    yield "methods", result.methods
    yield "question", words.question(result)
    header, body, _ = display.rows(result)
    yield "head", " | ".join(header)
    for row in body:
        # A row of another outcome begins with its name.
        if not any(entry.startswith("difference of ") for entry in row):
            yield "table", " | ".join(row)


def drawn(result: Result) -> Iterator[tuple[str, str]]:
    figure = result.plot()
    for axes in figure.axes:
        for text in (axes.get_xlabel(), axes.get_ylabel(), axes.get_title(), axes.get_title(loc="left")):
            yield "axis", text
        for text in axes.texts:
            yield "figure", text.get_text()
    ticks = [tick.get_text() for axes in figure.axes for tick in axes.get_yticklabels()]
    yield from (("tick", tick) for tick in ticks if not tick.startswith("difference of "))


@pytest.mark.parametrize("verb", VERBS)
def test_survival_speaks_of_no_rooting(trial: rl.Trial, verb: str) -> None:
    result = asked(trial, verb, "survival")
    for place, text in [*lines(result), *drawn(result)]:
        told = VERB.sub("", text)
        assert not OF_ROOTING.search(told), (verb, place, text)


@pytest.mark.parametrize("verb", VERBS)
def test_the_take_speaks_of_no_survival(trial: rl.Trial, verb: str) -> None:
    result = asked(trial, verb, "take")
    for place, text in [*lines(result), *drawn(result)]:
        assert not OF_SURVIVAL.search(text), (verb, place, text)


@pytest.mark.parametrize("verb", VERBS)
def test_rooting_among_survivors_names_them(trial: rl.Trial, verb: str) -> None:
    result = asked(trial, verb, "rooted-of-survivors")
    told = [text for place, text in lines(result) if place in ("sentence", "methods")]
    for text in told:
        for noun in ("take rate", "the take", "trees per 100", "100 cuttings"):
            assert noun not in text, (verb, text)
    assert any("surviv" in text for text in told), (verb, told)


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("outcome", OUTCOMES)
def test_the_record_says_what_was_counted(trial: rl.Trial, verb: str, outcome: str) -> None:
    options = asked(trial, verb, outcome).to_dict()["made_with"]["options"]
    assert [value for name, value in options if name == "outcome"] == ([] if outcome == "take" else [outcome])


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("outcome", OUTCOMES)
def test_decisions_stay_short(trial: rl.Trial, verb: str, outcome: str) -> None:
    sentence = asked(trial, verb, outcome).sentence
    assert len(sentence.split()) <= 30, sentence
    if outcome != "take":
        assert not re.search(r"\b(Use|Keep|Leaning to|Either will do|No reason to)\b", sentence), sentence


def test_survival_decides_nothing_alone(trial: rl.Trial) -> None:
    found = trial.compare("strength", 0, 8000, outcome="survival")
    assert found.sentence.startswith("Survival alone: 0 mg/L IBA gives")
    assert "; the take there is " in found.sentence
    assert " lower (" in found.sentence
    assert not any("small batch" in line for line in found.details)
    # Seen from the level that the decision names, so that nothing has to be turned round.
    [take] = [line for line in found.details if line.startswith("Take: ")]
    assert take.startswith("Take: 13.8 of 100 at 0 mg/L and 40.0 at 8000 mg/L, so")
    assert "fewer" in take


def test_a_loss_has_limits_without_signs(trial: rl.Trial) -> None:
    model = fitted(trial, "survival")
    told = [model.contrasts("strength", against=0).sentence, *model.contrasts("strength", against=0).details]
    trend = trial.trend("strength", outcome="survival")
    told += [trend.sentence, *trend.details]
    falls = [line for line in told if "fewer" in line or "falls" in line]
    assert falls
    for line in falls:
        assert not re.search(r"\(-|to -|interval -", line), line


def test_points_of_trays_are_those_of_the_outcome(trial: rl.Trial) -> None:
    figure = trial.take_rates("strength", outcome="survival").plot()
    shown = sorted(float(y) for group in figure.axes[0].collections for _, y in group.get_offsets())
    alive = sorted(100 * (20 - dead) / 20 for trays in DEAD.values() for dead in trays)
    assert shown[: len(alive)] == pytest.approx(alive) or set(alive) <= set(map(lambda y: round(y, 6), shown))


def test_parameters_of_curves_are_named_for_what_was_counted(trial: rl.Trial) -> None:
    names = {"take": "take", "survival": "survival rate", "rooted-of-survivors": "rate of rooting among survivors"}
    for outcome, name in names.items():
        table = trial.strength_curve(outcome=outcome).parameters()
        told = set(table["parameter"]) | set(table["unit"])
        assert {f"{name} at the top", f"{name} without hormone", f"{name}, 0 to 1"} <= told
        assert outcome == "take" or not any(re.search(r"\btake\b", text) for text in told), told
    deaths = trial.damage_threshold().curves[0].shapes
    told = {one[part] for shape in deaths for one in shape.parameters for part in ("name", "unit")}
    assert "death rate, 0 to 1" in told
    assert not any("take" in text for text in told), told


def test_the_axis_of_a_curve_is_that_of_the_outcome(trial: rl.Trial) -> None:
    axes = trial.strength_curve(outcome="survival").plot().axes[0]
    assert axes.get_ylabel() == "alive of stuck, %"
