"""Treatments that are times: every verb says that dates were not dealt out, and none advises to use one."""

from __future__ import annotations

import random
import warnings
from typing import Any

import pytest
import rootling as rl

NAMED: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}


def _weekly(name: str = "period", takes: tuple[float, float] = (0.75, 0.4)) -> dict[str, list[Any]]:
    """Twelve weeks of two rooms, three trays each; the take changes at the middle."""
    random_ = random.Random(5)
    rows = []
    for week in range(1, 13):
        for room in ("a", "b"):
            for _ in range(3):
                early = week <= 6
                rooted = sum(random_.random() < takes[0 if early else 1] for _ in range(20))
                rows.append((week, f"2024-{week:02d}-{room}", "early" if early else "late", room, rooted))
    week, batch, period, room, rooted = (list(column) for column in zip(*rows, strict=True))
    data = {"week": week, "batch": batch, name: period, "room": room, "rooted": rooted, "stuck": [20] * len(rows)}
    return {**data, "tray": list(range(len(rows)))}


def _load(data: Any, *treatments: str, **roles: Any) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        return rl.load_trial(data, **NAMED, treatments=list(treatments), **roles)


def _told(answer: Any) -> bool:
    return "levels_follow_time" in {note.code for note in answer.notes}


@pytest.mark.parametrize("roles", [{}, {"block": "batch"}, {"block": "week"}, {"covariates": "week"}], ids=str)
@pytest.mark.parametrize("name", ["period", "stage"])
def test_every_verb_says_that_levels_follow_time(name: str, roles: dict[str, Any]) -> None:
    trial = _load(_weekly(name), name, "room", **roles)
    found = trial.compare(name, "early", "late")
    model = trial.model([name, "room"])
    answers = [
        found,
        trial.compare_all(name),
        trial.association(name),
        trial.take_rates(name),
        model,
        model.contrasts(name),
    ]
    # A name that says nothing needs a recorded time.
    expected = name == "period" or bool(roles)
    assert [_told(answer) for answer in answers] == [expected] * len(answers)
    if expected:
        assert found.sentence.endswith("times were not dealt out, so this shows no cause.")
        # What is shown of such levels shows no cause, whoever is asked.
        for answer in [*answers, model.adjusted_rates(name), model.letters(name), model.odds_ratios()]:
            assert "times were not dealt out" in answer.sentence, answer.sentence
        assert "times" not in model.contrasts("room").sentence
        for answer in answers[:2]:
            said = " ".join([answer.sentence, *answer.details])
            assert not [word for word in ("Use ", "small batch") if word in said], said


def test_a_trend_over_weeks_is_one_over_time() -> None:
    trial = _load(_weekly(), "week", "room")
    assert _told(trial.trend("week"))
    assert "; times were not dealt out" in trial.trend("week").sentence
    assert _told(trial.compare("week", 2, 11))


@pytest.mark.parametrize(
    ("name", "levels", "expected"),
    [
        ("set_date", ["2024-03-01", "2024-05-01"], True),
        ("planting", ["12.05.2023", "03.06.2023"], True),
        ("crop", ["March", "May"], True),
        ("lot", [2023, 2024], True),
        ("dark_period", [14, 28], False),
        ("weeks", [2, 4], False),
        ("strength", [0, 2000], False),
        ("rootstock", ["K12", "K17"], False),
    ],
)
def test_what_is_a_calendar(name: str, levels: list[Any], expected: bool) -> None:
    data = {
        name: [levels[0]] * 5 + [levels[1]] * 5,
        "tray": list(range(10)),
        "rooted": [4, 6, 5, 7, 5, 12, 11, 13, 12, 10],
    }
    trial = _load({**data, "stuck": [20] * 10}, name, checked=["dates_as_levels"])
    assert _told(trial.compare(name, *levels)) == expected


def test_seasons_that_cannot_be_are_told_of() -> None:
    """A year before 1950 or still to come is a slip; other names of seasons are none."""
    rows: dict[str, list[Any]] = {
        "season": [2024] * 6 + [2205] * 6,
        "strength": [0, 5000] * 6,
        "tray": list(range(12)),
        "rooted": [3, 9, 4, 10, 2, 11, 5, 9, 4, 10, 3, 12],
    }
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": 20, "tray": "tray", "treatments": "strength"}
    told = {one.code: one.text for one in rl.load_trial(rows, **roles, season="season").notes}
    assert told["unusual_season"] == "Season 2205 is before 1950 or still to come: check the year in the sheet."
    for usual in ([2024] * 6 + [2025] * 6, [1] * 6 + [2] * 6, ["spring"] * 6 + ["autumn"] * 6):
        trial = rl.load_trial({**rows, "season": usual}, **roles, season="season")
        assert "unusual_season" not in {one.code for one in trial.notes}
