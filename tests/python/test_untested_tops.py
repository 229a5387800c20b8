"""What rests on the shape of a curve alone is told as such: tops and deaths between tested strengths."""

from __future__ import annotations

import warnings
from typing import Any

import pytest
import rootling as rl

STRENGTHS = (0, 1000, 2000, 4000, 8000)


def _load(counts: dict[int, list[tuple[int, int]]]) -> rl.Trial:
    rows = [(strength, rooted, dead) for strength, trays in counts.items() for rooted, dead in trays]
    data: dict[str, list[Any]] = {
        "strength": [one[0] for one in rows],
        "rooted": [one[1] for one in rows],
        "dead": [one[2] for one in rows],
        "stuck": [20] * len(rows),
        "tray": list(range(len(rows))),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        return rl.load_trial(data, rooted="rooted", stuck="stuck", dead="dead", treatments=["strength"], tray="tray")


@pytest.fixture(scope="module")
def between() -> rl.Trial:
    """Takes rise to 4000 and nearly all die at 8000: the top lies where nothing was tried."""
    takes, deaths = ([5, 5, 5, 6], [5, 5, 5, 5], [8, 9, 8, 9], [11, 12, 11, 12], [0, 1, 0, 1]), (0, 0, 1, 4, 19)
    return _load({s: [(one, dead) for one in trays] for s, trays, dead in zip(STRENGTHS, takes, deaths, strict=True)})


def test_a_top_that_nobody_tried_is_no_advice(between: rl.Trial) -> None:
    curve = between.strength_curve()
    best = curve.curves[0].best
    assert 4000 < best.strength.value < 8000
    assert best.take > max(one.fitted for one in curve.curves[0].strengths) + curve.input.options.nearly
    assert "nothing between 4000 and 8000 was tried: test there first" in curve.sentence
    assert "Use about" not in curve.sentence


def test_a_top_at_tested_strengths_is_advice() -> None:
    takes = ([4, 5, 4, 5], [8, 9, 8, 9], [11, 12, 11, 12], [9, 10, 9, 9], [3, 4, 4, 3])
    trial = _load({s: [(one, 0) for one in trays] for s, trays in zip(STRENGTHS, takes, strict=True)})
    sentence = trial.strength_curve().sentence
    assert sentence.startswith("Use about ")
    assert "was tried" not in sentence


def test_deaths_without_a_lower_limit_name_no_safe_strength() -> None:
    deaths = ([0, 1, 0, 1], [9, 14, 6, 12], [12, 15, 14, 11], [14, 13, 15, 15], [16, 15, 17, 14])
    trial = _load({s: [(2, one) for one in trays] for s, trays in zip(STRENGTHS, deaths, strict=True)})
    found = trial.damage_threshold()
    threshold = found.curves[0].threshold
    assert threshold.located
    assert threshold.from_first
    assert threshold.value < 1000
    assert "no strength is shown to be safe; test between 0 and 1000" in found.sentence
    assert "Stay below" not in found.sentence
    facts = " ".join(trial.strength_curve().details)
    assert "stay below" not in facts
