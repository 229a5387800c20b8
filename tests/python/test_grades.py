"""Root grades: the share that reaches a grade in every question, all grades at once, records and what is refused."""

from __future__ import annotations

import pickle
import re
from typing import Any

import polars as pl
import pytest
import rootling as rl
from rootling._results import Result

IBA = rl.Strength("IBA", unit="mg/L", method="quick dip")


def load(frame: Any, **more: Any) -> rl.Trial:
    roles: dict[str, Any] = {"rooted": "rooted", "tray": "tray", "treatments": "strength"}
    return rl.load_trial(frame, **roles, responses={"grade": rl.responses.grade(0, 5)}, **more)


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    return load(rl.demo.grades(seed=1), block="bench", strength=IBA)


def texts(result: Result) -> list[str]:
    return [result.sentence, *result.details, *(note.text for note in result.notes), result.methods]


def test_the_share_is_that_of_counts_by_hand(trial: rl.Trial) -> None:
    frame = rl.demo.grades(seed=1)
    trays = frame.group_by("bench", "tray", "strength").agg(rooted=(pl.col("grade") >= 3).sum(), stuck=pl.len())
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
    plain = rl.load_trial(trays, **roles, treatments="strength", strength=IBA)
    by_hand = plain.compare("strength", 2500, 5000)
    found = trial.compare("strength", 2500, 5000, response="grade", at_least=3)
    assert (found.value, found.low, found.high, found.p) == (by_hand.value, by_hand.low, by_hand.high, by_hand.p)
    all_of = trial.grades("strength", response="grade", at_least=3)
    assert all_of.sentence == found.sentence
    rates = plain.take_rates("strength").rates
    assert [(one.value, one.low, one.high) for one in all_of.levels] == [
        (one.value, one.low, one.high) for one in rates
    ]
    model = trial.model(["strength"], response="grade", at_least=3)
    assert model.what_matters().effects[0].p == plain.model(["strength"]).what_matters().effects[0].p


def test_answers_name_the_grade_and_no_take(trial: rl.Trial) -> None:
    model = trial.model(["strength"], response="grade", at_least=3)
    asked = [
        trial.grades("strength", response="grade", at_least=3),
        trial.compare("strength", 2500, 5000, response="grade", at_least=3),
        trial.compare_all("strength", response="grade", at_least=3),
        model.what_matters(),
        model.odds_ratios(),
        model.adjusted_rates("strength"),
        model.contrasts("strength"),
        model.letters("strength"),
        model.checks(),
        model.predict({"strength": [2500, 5000]}),
    ]
    for one in asked:
        said = "\n".join(texts(one))
        assert "the grade or better" not in said
        assert not re.search(r"\b(trees|take|takes|take rates?)\b", re.sub(r"take (?:out|it as)", "", said)), (
            one.kind,
            said,
        )
        assert len(one.sentence.split()) <= 30, one.sentence
        assert dict(one.to_dict()["made_with"]["options"])["at_least"] == "3"
    assert "grade 3 or better" in asked[0].sentence


def test_records_are_read_back_and_asked_again(trial: rl.Trial) -> None:
    for one in (
        trial.grades("strength", response="grade", at_least=3),
        trial.compare("strength", 2500, 5000, response="grade", at_least=3),
        trial.compare_all("strength", response="grade", at_least=4, grades_of="rooted"),
        trial.model(["strength"], response="grade", at_least=3),
    ):
        again = type(one).from_json(one.to_json())
        assert again.to_dict() == one.to_dict()
        assert rl.verify(one.to_json(), trial).agrees, one.kind


def test_a_pickled_trial_of_a_share_is_the_same(trial: rl.Trial) -> None:
    share = trial.model(["strength"], response="grade", at_least=3)._trial
    again = pickle.loads(pickle.dumps(share))
    assert again._core.units == share._core.units


def test_figures_are_drawn(trial: rl.Trial) -> None:
    trial.grades("strength", response="grade", at_least=3).plot()
    trial.compare("strength", 2500, 5000, response="grade", at_least=3).plot()
    trial.model(["strength"], response="grade", at_least=3).adjusted_rates("strength").plot()


def test_what_is_not_told_is_asked_for(trial: rl.Trial) -> None:
    with pytest.raises(rl.exceptions.ChoiceError, match="at_least=3 asks for the share"):
        trial.compare("strength", 2500, 5000, response="grade")
    with pytest.raises(rl.exceptions.ChoiceError, match="about a response"):
        trial.model(["strength"], at_least=3)
    with pytest.raises(rl.exceptions.ChoiceError, match="from 1 to 5"):
        trial.grades("strength", response="grade", at_least=6)
    with pytest.raises(rl.exceptions.ChoiceError, match="no response is called"):
        trial.grades("strength", response="grades", at_least=3)
    with pytest.raises(rl.exceptions.ChoiceError):
        trial.compare("strength", 2500, 5000, response="grade", at_least=3, outcome="survival")
