"""Answers agree with themselves: what is said of chance, of trays, of small differences and of letters."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import rootling as rl
from rootling._words import numbers
from rootling.exceptions import ChoiceError, RootlingError
from rootling.models import Model

ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "mix", "tray": "tray"}


def _trial(rooted: list[int], stuck: int, **more: Any) -> rl.Trial:
    n = len(rooted)
    sheet = {"mix": ["a", "b"] * (n // 2), "tray": list(range(n)), "stuck": [stuck] * n, "rooted": rooted}
    return rl.load_trial(sheet, **{**ROLES, **more})


@pytest.fixture(scope="module")
def bays() -> rl.Trial:
    """Heat given to four bays, three strengths in each, four trays of every kind in all."""
    rng = np.random.default_rng(7)
    rows = [
        (bay, heat, strength, tray, int(rng.binomial(20, {"cool": 0.35, "warm": 0.75}[heat])))
        for bay, heat in (("1", "cool"), ("2", "cool"), ("3", "warm"), ("4", "warm"))
        for strength in (0, 2000, 4000)
        for tray in ("1", "2")
    ]
    names = ("bay", "heat", "strength", "tray no", "rooted")
    sheet = {name: list(column) for name, column in zip(names, zip(*rows, strict=True), strict=True)}
    roles = {"treatments": ["heat", "strength"], "tray": ["strength", "tray no"], "whole_plot": "bay"}
    return rl.load_trial({**sheet, "stuck": [20] * len(rows)}, rooted="rooted", stuck="stuck", **roles)


def test_pure_chance_is_rarely_called_alike() -> None:
    rng = np.random.default_rng(11)
    told = 0
    for _ in range(60):
        trial = _trial([int(x) for x in rng.binomial(40, 0.6, 24)], 40)
        notes = {note.code for note in trial.compare("mix", "a", "b").notes}
        told += "underdispersion" in notes
    # One side of a two-sided 5 %: 2.5 % of trials; 7 of 60 or more has a chance below 0.001 (binomial).
    assert told <= 6


def test_trays_too_alike_are_said_with_their_p() -> None:
    trial = _trial([20, 24] * 12, 40)
    notes = {note.code: note.text for note in trial.compare("mix", "a", "b").notes}
    assert "P " in notes["underdispersion"]
    assert "or readings that were not blind" in notes["underdispersion"]


def test_small_differences_are_no_reason_to_change() -> None:
    trial = _trial([600, 658] * 12, 1000)
    found = trial.compare("mix", "a", "b")
    assert found.p < 0.05
    assert found.high < 0.10
    assert found.sentence.startswith("No reason to change")
    assert any("smaller nearly=" in line for line in found.details)
    assert trial.compare("mix", "a", "b", nearly=0.02).sentence.startswith("Use mix b")


def test_all_levels_keep_the_scope_and_the_second_opinion(bays: rl.Trial) -> None:
    two = bays.compare_all("strength", at={"heat": "warm"})
    assert "(warm)" in two.sentence
    for seed in range(12):
        rng = np.random.default_rng(seed)
        trial = _trial([int(x) for x in rng.binomial(20, [0.35, 0.75] * 4)], 20)
        one, all_of = trial.compare("mix", "a", "b").sentence, trial.compare_all("mix").sentence
        for start in ("Use", "Leaning"):
            assert one.startswith(start) == all_of.startswith(start), (one, all_of)
        assert "all other levels" not in all_of


def test_few_bays_are_called_bays(bays: rl.Trial) -> None:
    notes = {note.code: note.text for note in bays.compare("heat", "cool", "warm").notes}
    assert notes["few_trays"].startswith("Fewer than four bays")


def test_letters_say_where_they_hold(bays: rl.Trial) -> None:
    model = bays.model(["heat", "strength"], interactions=[("heat", "strength")])
    letters = model.letters("strength", within="heat")
    assert any("within one level of heat only" in line for line in letters.details)
    note = next(note.text for note in letters.notes if note.code == "letters")
    assert "start afresh in each level of heat" in note
    assert letters.plot() is not None


def test_nothing_in_common_is_not_called_in_common(bays: rl.Trial) -> None:
    for note in bays.model(["heat", "strength"]).notes:
        if note.code == "units_above_trays":
            assert "(0.000)" not in note.text


def test_several_tests_are_judged_together(bays: rl.Trial) -> None:
    found = bays.association("strength", within="heat")
    assert any(note.code == "several_tests" and "Holm" in note.text for note in found.notes)


def test_a_method_that_plays_no_part_is_told_and_a_wrong_one_refused() -> None:
    trial = _trial([5, 12] * 6, 20)
    with pytest.raises(ChoiceError, match="banana"):
        trial.compare("mix", "a", "b", method="banana")
    for found in (trial.compare("mix", "a", "b", method="newcombe"), trial.take_rates(method="wilson")):
        assert any(note.code == "method_unused" for note in found.notes)
    assert all(note.code != "method_unused" for note in trial.compare("mix", "a", "b").notes)


@pytest.mark.parametrize("wrong", ["strength:heat", ["strength", "heat"], ["strength x heat"]])
def test_interactions_are_answered_with_the_right_form(bays: rl.Trial, wrong: Any) -> None:
    with pytest.raises(ChoiceError, match=r"write interactions=\[\('strength', 'heat'\)\]"):
        bays.model(["strength", "heat"], interactions=wrong)


@pytest.mark.parametrize("wrong", ["strength + heat", "strength*heat"])
def test_formulas_are_answered_with_a_list(bays: rl.Trial, wrong: str) -> None:
    with pytest.raises(ChoiceError, match=r"write the effects as a list: model\(\['strength', 'heat'\]"):
        bays.model(wrong)


def test_another_treatment_names_only_options_there_are(bays: rl.Trial) -> None:
    with pytest.raises(RootlingError, match="in within= for a curve each, in common= for one curve of all, or keep"):
        bays.strength_curve(strength="strength")
    for ask in (bays.damage_threshold, bays.response_surface):
        with pytest.raises(RootlingError) as found:
            ask(strength="strength")
        assert "common=" not in str(found.value)


def test_trays_of_one_name_are_told_apart(bays: rl.Trial) -> None:
    names: list[str] = Model.checks(bays.model(["heat", "strength"])).table()["tray"].to_list()
    assert len(set(names)) == len(names)
    assert "bay" in names[0]


def test_numbers_without_noise() -> None:
    assert numbers.written(-8.46e-17, "plain") == "0"
    assert numbers.written(-0.0002, "difference") == "0.0 points"
    assert numbers.written(7.999, "degrees") == "8"
    assert [numbers.written(p, "p") for p in (0.17, 0.0837, 0.0174)] == ["0.17", "0.084", "0.017"]


def test_a_line_break_in_a_figure_is_one(bays: rl.Trial) -> None:
    model = bays.model(["heat", "strength"], interactions=[("heat", "strength")])
    figure = model.contrasts("strength", against=0, changing_with="heat").plot()
    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert all("U+" not in label and "\n" in label for label in labels)


def test_levels_of_a_figure_keep_to_their_band(bays: rl.Trial) -> None:
    model = bays.model(["heat", "strength"], interactions=[("heat", "strength")])
    axes = model.adjusted_rates("strength", within="heat").plot().axes[0]
    for line in axes.get_lines():
        for at in line.get_xdata():
            assert abs(float(at) - round(float(at))) < 0.3


def test_the_figure_of_a_trend_shows_its_line(bays: rl.Trial) -> None:
    found = bays.trend("strength")
    axes = found.plot().axes[0]
    dashed = [line for line in axes.get_lines() if line.get_linestyle() == "--"]
    (line,) = dashed
    low, high = (float(y) for y in line.get_ydata())
    assert high - low == pytest.approx(100 * found.value, rel=1e-12)
