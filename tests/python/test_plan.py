"""Planned trials from Python: what is asked, what is said, and what is refused."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, RootlingError, TrialDataError

plan = rl.plan
ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["level"], "tray": "tray"}
ROLES["checked"] = "sum_row"


def test_a_trial_is_planned_in_a_sentence() -> None:
    found = plan.trays_needed({2500: 0.60, 5000: 0.75}, cuttings=20, draws=2000)
    assert found.sentence.startswith("Set 16 trays of 20 cuttings per level to show 60 against 75 of 100 in 80 of 100")
    assert [row.correlation for row in found.rows] == [0.01, 0.05, 0.15]
    assert found.rows[0].trays < found.rows[1].trays < found.rows[2].trays
    assert {note.code for note in found.notes} >= {"correlation_assumed", "expected_takes"}


def test_the_kernel_judges_as_a_loaded_trial_is_judged() -> None:
    options: dict[str, Any] = {"trays": 5, "correlation": 0.1, "seed": 7}
    p_values = plan.p_values((0.3, 0.6), draws=100, **options)
    for number in range(20):
        drawn = plan.draw_trial((0.3, 0.6), number=number, **options)
        trial = rl.load_trial(
            drawn, rooted="rooted", stuck="stuck", treatments=["level"], tray="tray", checked="sum_row"
        )
        p = trial.compare("level", 1, 2).p
        assert p_values[number] == pytest.approx(1.0 if p is None else p, rel=1e-11, abs=0)


def test_p_values_of_ten_thousand_trials_take_a_fraction_of_a_second() -> None:
    plan.p_values((0.6, 0.75), trays=8, draws=1000)
    start = time.perf_counter()
    found = plan.p_values((0.6, 0.75), trays=8, draws=10_000)
    spent = time.perf_counter() - start
    assert found.shape == (10_000,)
    assert np.all((found >= 0) & (found <= 1))
    # 0.03 s on a quiet machine; the bar leaves room for a busy one.
    assert spent < 0.6, spent


@pytest.mark.parametrize(
    ("question", "takes", "more"),
    [
        ("not-worse", (0.7, 0.72), {"margin": 0.15}),
        ("equivalent", (0.7, 0.7), {"margin": 0.15}),
        ("against-control", (0.3, 0.5, 0.6), {}),
        ("all-pairs", (0.3, 0.5, 0.6), {}),
        ("trend", (0.3, 0.4, 0.5), {"scores": [0, 1000, 2000]}),
        ("target", 0.7, {"target": 0.85}),
        ("effect", [[0.40, 0.40], [0.52, 0.52]], {}),
        ("interaction", [[0.3, 0.5], [0.3, 0.8]], {}),
    ],
)
def test_every_question_has_a_plan(question: Any, takes: Any, more: dict[str, Any]) -> None:
    found = plan.power(takes, trays=[6, 12], question=question, correlation=0.03, draws=400, **more)
    few, many = found.rows
    assert few.power < many.power
    assert len(found.sentence.split()) <= 30
    assert found.plot() is not None
    again = type(found).from_json(found.to_json())
    assert again.sentence == found.sentence
    assert again.rows == found.rows


def test_strengths_stand_where_they_are_along_a_trend() -> None:
    takes = {0: 0.3, 100: 0.5, 8000: 0.5}
    options: dict[str, Any] = {"trays": 8, "question": "trend", "correlation": 0.05, "draws": 2000}
    (row,) = plan.power(takes, **options).rows
    (same,) = plan.power((0.3, 0.5, 0.5), scores=[0, 100, 8000], **options).rows
    (ranked,) = plan.power((0.3, 0.5, 0.5), **options).rows
    assert row == same
    assert row.power < ranked.power - 0.2
    assert row.half_width is None


def test_costs_are_least_among_the_numbers_of_cuttings() -> None:
    options: dict[str, Any] = {"correlation": 0.05, "draws": 4000}
    cheapest = plan.trays_needed((0.60, 0.75), cost_per_tray=4, cost_per_cutting=0.3, **options).rows[0]
    for cuttings in (12, 14, 17, 20):
        (row,) = plan.trays_needed((0.60, 0.75), cuttings=cuttings, **options).rows
        assert cheapest.cost <= 1.01 * (4 * row.n_trays + 0.3 * row.n_cuttings)


def test_a_dry_run_goes_through_the_plan() -> None:
    laid = plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    dry = plan.dry_run(laid, {2500: 0.2, 5000: 0.9})
    found = rl.load_trial(dry.sheet, plan=laid).compare("strength", 2500, 5000)
    assert found == dry.answer
    assert found.value > 0.4
    assert found.within == ("block",)
    assert repr(dry).startswith("Invented counts")
    assert dry.answer.sentence in repr(dry)
    assert "<p>Invented counts" in dry._repr_html_()
    with pytest.raises(AttributeError, match="a dry run cannot be changed"):
        dry.sheet = None  # type: ignore[misc,assignment]
    with pytest.raises(ChoiceError, match="takes= says nothing of 5000"):
        plan.dry_run(laid, {2500: 0.2})


def test_a_dry_run_asks_what_fits_the_treatments() -> None:
    three = plan.layout("completely-randomised", {"strength": [0, 2500, 5000]}, trays=4, stuck=20, seed=1)
    assert plan.dry_run(three, {0: 0.1, 2500: 0.5, 5000: 0.8}).answer.kind == "all_comparisons"
    crossed = plan.layout("blocks", {"strength": [0, 2500], "rootstock": ["K12", "K17"]}, blocks=4, stuck=20, seed=1)
    takes = {(strength, stock): 0.5 for strength in (0, 2500) for stock in ("K12", "K17")}
    assert plan.dry_run(crossed, takes).answer.kind == "what_matters"


def test_a_dry_run_says_first_what_the_plan_cannot_tell_apart() -> None:
    treatments = {"dark_days": [14, 28], "strength": [2500, 5000]}
    dark = plan.layout("split-plot", treatments, whole_plot="dark_days", whole_plots=1, trays=4, stuck=20, seed=1)
    takes = {(days, strength): days / 40 for days in (14, 28) for strength in (2500, 5000)}
    dry = plan.dry_run(dark, takes)
    assert "Of the plan: " in repr(dry)
    assert dry.notes[0] in dark.notes


def test_places_hold_the_trays_that_are_looked_at() -> None:
    free = plan.trays_needed((0.60, 0.75), correlation=0.05, draws=1000)
    needed = free.rows[0].n_trays
    found = plan.trays_needed((0.60, 0.75), correlation=0.05, draws=1000, places=needed + 3)
    assert found.rows[0] == free.rows[0]
    assert f"They take {needed} of {needed + 3} places." in found.details
    short = plan.trays_needed((0.60, 0.75), correlation=0.05, draws=1000, places=17)
    assert (short.rows[0].reached, short.rows[0].n_trays) == (False, 16)
    assert "They take 16 of 17 places, and no more of each level fit." in short.details
    assert "find more places" in short.details[0]
    # Where places are few, more cuttings in each tray may be what fits.
    priced: dict[str, Any] = {"cost_per_tray": 2, "cost_per_cutting": 0.5, "correlation": 0.02, "draws": 1000}
    wide = plan.trays_needed((0.60, 0.75), **priced).rows[0]
    fits = plan.trays_needed((0.60, 0.75), places=wide.n_trays - 4, **priced).rows[0]
    assert fits.reached
    assert fits.n_trays <= wide.n_trays - 4
    assert fits.cuttings > wide.cuttings
    with pytest.raises(ChoiceError, match=r"places=3 holds no trial of these levels; the smallest one has 4 trays"):
        plan.trays_needed((0.60, 0.75), places=3, draws=400)


def test_darkness_is_planned_in_bays() -> None:
    found = plan.trays_needed((0.3, 0.6), trays_per_bay=3, correlation=0.05, draws=400)
    assert found.rows[0].bays >= 3
    assert "bays" in found.sentence
    with pytest.raises(RootlingError, match="bays=1 puts each level into a single bay"):
        plan.power((0.3, 0.6), trays=3, bays=1)


def test_earlier_trials_take_the_place_of_correlations() -> None:
    trials = [
        rl.load_trial(plan.draw_trial((0.5, 0.6), trays=8, correlation=0.05, number=number), **ROLES)
        for number in range(3)
    ]
    found = plan.power((0.5, 0.75), trays=8, earlier=trials, draws=2000)
    (row,) = found.rows
    assert 0 <= row.correlation < 0.3
    assert row.expected_power is not None
    assert found.n_earlier == 3
    assert "as uncertain as 3 earlier trials leave it" in found.sentence
    needed = plan.trays_needed((0.5, 0.75), earlier=trials, draws=1000)
    assert needed.rows[0].expected_power >= 0.8
    with pytest.raises(ChoiceError, match="give one of the two"):
        plan.power((0.5, 0.75), trays=8, earlier=trials, correlation=0.05)


def test_looks_keep_what_they_promise_and_say_what_they_cost() -> None:
    found = plan.looks((0.5, 0.8), trays=12, looks=3, draws=2000)
    assert [row.trays for row in found.rows] == [4, 8, 12]
    assert found.rows[0].p_level < found.rows[1].p_level < found.rows[2].p_level < 0.06
    assert found.rows[-1].alarms < 0.06 < found.naive_each_tray
    assert found.mean_trays < 12
    with pytest.raises(RootlingError, match="3 looks at 8 trays per level"):
        plan.looks((0.5, 0.8), trays=8, looks=3)


def test_a_trial_under_way_is_followed_to_its_end() -> None:
    drawn = plan.draw_trial({2500: 0.5, 5000: 0.7}, trays=4, number=3)
    trial = rl.load_trial(drawn, **ROLES)
    found = plan.chance_at_end(trial, "level", 2500, 5000, trays=12, takes=(0.5, 0.7), draws=1000)
    assert [row.assumed for row in found.rows] == ["as expected", "as seen so far", "no difference"]
    assert found.rows[2].chance < found.rows[0].chance
    options: dict[str, Any] = {"trays": 12, "draws": 1000}
    level = {2500: 0.5, 5000: 0.7}
    by_level = plan.chance_at_end(trial, "level", 2500, 5000, takes=level, **options)
    assert by_level.rows[0].chance == found.rows[0].chance
    turned = plan.chance_at_end(trial, "level", 5000, 2500, takes=level, **options)
    assert turned.rows[0].first == 0.7
    with pytest.raises(ChoiceError, match="says nothing of 2500"):
        plan.chance_at_end(trial, "level", 2500, 5000, takes={1: 0.5, 2: 0.7}, **options)
    with pytest.raises(RootlingError, match="trays=4 leaves nothing to come"):
        plan.chance_at_end(trial, "level", 2500, 5000, trays=4)


def test_the_best_strength_is_planned_for() -> None:
    takes = {0: 0.1, 500: 0.4, 1000: 0.6, 2000: 0.7, 4000: 0.5, 8000: 0.2}
    found = plan.best_strength(takes, trays=36, unit="mg/L", draws=10)
    for layout in found.layouts:
        assert sum(own.trays for own in layout.strengths) == 36
        assert 0 <= layout.located <= 1
    assert found.plot() is not None
    assert len(found.sentence.split()) <= 30


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: plan.power((60, 75), trays=8), "an expected take of 60 is no proportion; write 0.6 for 60 of 100"),
        (lambda: plan.power((0.6, -0.2), trays=8), "an expected take of -0.2 is not between 0 and 1"),
        (lambda: plan.power((0.6, 0.75), trays=8, correlation=5), "correlation=5 is not at least 0 and below 1"),
        (lambda: plan.power((0.6, 0.75), trays=0), "trays=0 is no whole number above 0; write trays=8"),
        (lambda: plan.power((0.6, 0.75), trays=8.5), "trays=8.5 is no whole number above 0"),
        (lambda: plan.power((0.6, 0.6), trays=8), "the expected takes do not differ"),
        (lambda: plan.power("0.6", trays=8), "is no list of expected takes; write takes="),
        (lambda: plan.power((0.6, "a"), trays=8), "the expected take of level 2 is"),
        (lambda: plan.power([[0.3, 0.5], [0.3]], trays=8, question="interaction"), "its rows hold different numbers"),
        (lambda: plan.power((0.6, 0.7, 0.8), trays=8), 'question="difference" needs 2 levels and takes= holds 3'),
        (
            lambda: plan.power((0.6, 0.7), trays=8, question="equivalent", margin=0.05),
            "no number of trays would show it",
        ),
        (lambda: plan.power((0.6, 0.7), trays=8, earlier="x"), "in earlier= is neither a trial nor the record of one"),
        (lambda: plan.power((0.6, 0.7), trays=8, draws=5), "draws=5 is not between 100 and 1000000"),
        (lambda: plan.trays_needed((0.6, 0.7), power=80), "power=80"),
        (lambda: plan.smallest_difference(60, trays=8), "an expected take of 60"),
        (lambda: plan.best_strength([0.1, 0.2], trays=24), "is no dictionary of strengths"),
        (lambda: plan.best_strength({0: 0.1, 1000: 0.5}, trays=24), "2 strengths are no curve to plan by"),
        (lambda: plan.power((0.6, 0.7), trays=8, question="differences"), "did you mean"),
        (
            lambda: plan.power((0.6, 0.7), trays=8, margin=0.1),
            'margin= belongs to question="not-worse" or',
        ),
        (lambda: plan.power({0.6, 0.7}, trays=8), "takes= is a set, which has no order"),
        (lambda: plan.p_values(0.6, trays=8, question="target"), "is decided by limits, not by a P value"),
        (lambda: plan.chance_at_end(1, "level", 1, 2, trays=8), "trial= is no trial"),
    ],
)
def test_what_cannot_be_planned_is_one_sentence(call: Any, said: str) -> None:
    with pytest.raises((ChoiceError, CountError, TrialDataError)) as error:
        call()
    assert said in str(error.value)


def test_out_of_reach_says_what_is_reachable() -> None:
    found = plan.trays_needed((0.60, 0.62), most_trays=10, correlation=0.05, draws=400)
    assert found.sentence.startswith(
        "Out of reach: even 10 trays of 20 cuttings per level show 60 against 62 of 100 in "
    )
    assert not found.rows[0].reached
