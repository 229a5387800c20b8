"""Curves of what was given to bays of several seasons: heights with seasons taken out, as in a model, or not at all."""

from __future__ import annotations

import math

import polars as pl
import pytest
import rootling as rl

pytestmark = pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
TAKES = {0: 0.25, 1000: 0.5, 4000: 0.6, 16000: 0.3}
SEASONS = (-0.15, 0.0, 0.18)


def _bays(dark_bays: tuple[int, int, int]) -> rl.Trial:
    """Six bays of their own in each season, the first of them dark; darkness adds 6 trees per 100."""
    rows = []
    for season, many in enumerate(dark_bays):
        for bay in range(6):
            for at, (strength, take) in enumerate(TAKES.items()):
                dark = bay < many
                chance = take + SEASONS[season] + 0.06 * dark + 0.02 * ((5 * bay + 3 * season + 2 * at) % 5 - 2)
                rows.append((season, f"{season}{bay}", 21 * dark, strength, int(20 * chance + 0.5), 20))
    return _loaded(rows)


def _loaded(rows: list[tuple[int, str, int, int, int, int]]) -> rl.Trial:
    names = ["season", "bay", "dark_days", "strength", "rooted", "stuck"]
    frame = pl.DataFrame(rows, schema=names, orient="row").with_row_index("tray")
    design = {"tray": "tray", "whole_plot": "bay", "season": "season"}
    return rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments=["dark_days", "strength"], **design)


def test_heights_are_judged_as_a_model_judges_them() -> None:
    trial = _bays((3, 3, 3))
    found = trial.strength_curve(within="dark_days", strength="strength").differences()
    height = next(test for test in found.to_dict()["tests"] if test["method"] == "same height")
    # The second route: the model's own test, on 18 bays less three seasons and a level.
    test = trial.model(["dark_days", "strength"]).what_matters().table().row(0, named=True)
    assert height["error_df"] == pytest.approx(14)
    assert test["error_df"] == pytest.approx(14, rel=0.05)
    assert abs(math.log(height["p"] / test["p"])) < 0.7


def test_heights_have_the_p_value_of_kenward_and_roger() -> None:
    """Takes from none to nearly all: the mean of p (1 - p) over strengths is half of that of the mean take."""
    rooted = [(0, 10, 15, 2), (0, 17, 20, 6), (0, 13, 16, 2), (1, 16, 18, 9), (0, 15, 18, 5), (1, 10, 16, 4)]
    rooted += [(0, 11, 19, 2), (0, 7, 19, 4), (0, 8, 17, 4), (0, 12, 17, 4), (2, 9, 18, 5), (0, 3, 10, 1)]
    rows = [
        (bay // 6, f"b{bay}", 21 * ((bay + bay // 6) % 2), strength, count, 20)
        for bay, counts in enumerate(rooted)
        for strength, count in zip(TAKES, counts, strict=True)
    ]
    found = _loaded(rows).strength_curve(within="dark_days", strength="strength", shape="hump").differences()
    height = next(test for test in found.to_dict()["tests"] if test["method"] == "same height")
    # R 4.2.2, lme4 1.1.31, pbkrtest 0.5.2: KRmodcomp of lmer(rooted / 20 ~ season + strength + dark_days + (1 | bay))
    # and the same without dark_days, F = 3.0821918 on 1 and 9. Heights are on the log odds, so P is another, but near.
    assert height["error_df"] == pytest.approx(9)
    assert abs(math.log(height["p"] / 0.11303984)) < 0.5


def test_heights_are_not_compared_where_seasons_are_uneven() -> None:
    found = _bays((1, 3, 5)).strength_curve(within="dark_days", strength="strength").differences()
    assert not any(test["method"] == "same height" for test in found.to_dict()["tests"])
    assert "season being uneven over dark days" in found.sentence
    assert "takes more than" not in found.sentence
    assert any("hold season in different shares" in note.text for note in found.notes)


def test_takes_of_strengths_given_to_bays_hold_over_seasons() -> None:
    rows = []
    for season, height in enumerate((-0.2, 0.0, 0.2)):
        for bay in range(8):
            strength = list(TAKES)[bay % 4]
            rooted = int(20 * (TAKES[strength] + height + 0.02 * (bay // 4)) + 0.5)
            rows.append((season, f"b{bay}", strength, rooted, 20))
    frame = pl.DataFrame(rows, schema=["season", "bay", "strength", "rooted", "stuck"], orient="row")
    design = {"tray": "tray", "whole_plot": "bay", "season": "season"}
    trial = rl.load_trial(frame.with_row_index("tray"), rooted="rooted", stuck="stuck", treatments="strength", **design)
    rates = trial.take_rates("strength").table()
    levels = trial.strength_curve().levels()
    for rate, own in zip(rates.iter_rows(named=True), levels.iter_rows(named=True), strict=True):
        width = own["high"] - own["low"]
        assert 0.85 < width / (rate["high"] - rate["low"]) < 1.4
