"""Where none or all rooted the estimate is a by-product of the penalty: what is told is the bound."""

from __future__ import annotations

import warnings
from typing import Any

import polars as pl
import pytest
import rootling as rl
from conftest import ROLES


def _load(takes: dict[int, list[int]], **more: Any) -> rl.Trial:
    rows = [{"strength": s, "stuck": 20, "rooted": one} for s, counts in takes.items() for one in counts]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        return rl.load_trial(pl.DataFrame(rows), **{**ROLES, "block": None, "tray": "each-row"}, **more)


@pytest.fixture(scope="module")
def extreme() -> rl.Trial:
    """None of 80 at 0, about half at 2500, all of 80 at 5000."""
    return _load({0: [0] * 4, 2500: [9, 11, 10, 8], 5000: [20] * 4})


def test_an_endless_odds_ratio_is_told_as_its_bound(extreme: rl.Trial) -> None:
    model = extreme.model("strength")
    found = model.odds_ratios()
    (low,) = (row.low for row in found.ratios if row.comparison == "strength 5000 against 0")
    assert found.ratios[1].high == float("inf")
    assert f"odds of rooting at least {float(f'{low:.2g}'):g} times as high" in found.sentence
    assert "(at least" not in found.sentence
    assert all("(at least" not in line for line in found.details)
    assert found.details[0].startswith("Odds ratios: at least ")
    note = next(note.text for note in found.notes if note.code == "one_sided_bound")
    assert "Report the bound" in note
    told = model.contrasts("strength", scale="odds")
    assert " at least " in told.sentence
    assert "times (" not in told.sentence
    assert all("(at least" not in line for line in told.details)
    # Against the level where all rooted the bound is an upper one.
    turned = extreme.model("strength", reference={"strength": 5000}).odds_ratios()
    assert "at most" in turned.sentence
    # The numbers stay.
    assert found.table()["odds_ratio"].null_count() == 0
    scale = model.coefficients()
    assert scale.details[0].count("at least") == 2


def test_rates_where_none_or_all_rooted_are_told_as_bounds(extreme: rl.Trial) -> None:
    model = extreme.model("strength")
    rates = model.adjusted_rates("strength")
    high, low = 100 * rates.rates[0].high, 100 * rates.rates[2].low
    assert rates.sentence == f"Of 100 cuttings at most {high:.0f} at strength 0 root, at least {low:.0f} at 5000."
    assert f"Highest: strength 5000, at least {low:.0f} of 100 rooted" in model.letters("strength").sentence


def test_a_pair_on_the_border_says_why_and_what_to_ask() -> None:
    trial = _load({0: [5, 6, 7, 8, 3], 1000: [6, 10, 11, 6, 7], 3000: [14, 11, 10, 14, 10]})
    found = trial.compare_all("strength")
    pair = next(pair for pair in found.pairs if pair.p_adjusted < 0.05 and pair.low < 0 < pair.high)
    assert "1 pair is borderline, small P but limits across 0" in found.sentence
    line = next(line for line in found.details if line.startswith("P and limits part at that pair"))
    assert "limits hold for all 3 pairs at once and are wider" in line
    call = 'trial.model(["strength"]).contrasts("strength")'
    assert call in line
    assert any(call in note.text for note in found.notes if note.code == "single_step_intervals")
    # The call is one, and in its answer limits and P values agree on every pair.
    told = eval(call, {"trial": trial})
    assert all((one.p_adjusted < 0.05) == (one.low > 0 or one.high < 0) for one in told.contrasts)
    assert pair.second in {"1000", "3000"}
    single = trial.compare_all("strength", together="bonferroni")
    assert not any("P and limits part" in line for line in single.details)
    stepwise = trial.model("strength").contrasts("strength", together="holm")
    assert any("though the limits" in line for line in stepwise.details)
    assert "1 of 3 comparisons shows a difference" in stepwise.sentence
    assert "; 1 is borderline, small P but limits across no difference" in stepwise.sentence
    assert any(line.startswith("Borderline: strength 3000 against 1000") for line in stepwise.details)


def test_the_call_on_the_border_keeps_level_and_outcome(frame: pl.DataFrame) -> None:
    rows = frame.with_columns(rootstock=pl.Series(["K12", "K17"] * 6), dead=pl.lit(0))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        trial = rl.load_trial(rows, **{**ROLES, "treatments": ["strength", "rootstock"]}, dead="dead")
    found = trial.compare_all("strength", against=2500, at={"rootstock": "K12"}, outcome="survival")
    assert found.n_tests == 1
    # With one pair there are no steps.
    assert not any(note.code == "single_step_intervals" for note in found.notes)
    pairs = trial.compare_all("rootstock", together="holm")
    assert not any("judged together" in line for line in pairs.details)


def test_a_denied_pair_says_what_it_needs() -> None:
    takes = {0: [1, 2, 9, 3, 2, 3, 2, 1], 1000: [6, 7, 2, 8, 3, 6, 7, 9], 3000: [9, 14, 12, 15, 3, 13, 12, 14]}
    details = _load(takes).compare_all("strength").details
    lines = [line for line in details if "does not confirm" in line or "cannot confirm" in line]
    assert all("and a pair needs 0.0167 where 3 are judged together" in line for line in lines), lines


def test_one_comparison_is_not_several(frame: pl.DataFrame) -> None:
    alike = _load({0: [5, 6, 7, 8], 1000: [6, 7, 8, 6]})
    found = alike.model("strength").contrasts("strength")
    assert found.sentence.startswith("No difference is shown; up to ")
    assert found.details[0] == "No difference is shown."
    shown = rl.load_trial(frame, **ROLES).model("strength").contrasts("strength")
    assert shown.details[0].startswith("A difference is shown, in trees per 100: strength 5000 against 2500: ")


@pytest.fixture(scope="module")
def rooms() -> rl.Trial:
    rows = [
        {
            "dark_days": dark,
            "bay": f"{dark}-{bay}",
            "strength": s,
            "stuck": 20,
            "rooted": 3 + 5 * (s > 0) + dark // 7 + bay,
        }
        for dark in (0, 21)
        for bay in range(3)
        for s in (0, 2500)
        for _ in range(2)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        roles = {**ROLES, "treatments": ["strength", "dark_days"], "tray": "each-row", "block": None}
        return rl.load_trial(pl.DataFrame(rows), **roles, whole_plot="bay")


def test_a_level_that_is_a_number_is_named(rooms: rl.Trial) -> None:
    model = rooms.model(["strength", "dark_days"], interactions=[("strength", "dark_days")])
    assert " with dark days " in model.contrasts("strength", within="dark_days").sentence
    assert " with dark days 21, " in model.letters("strength", within="dark_days").sentence
    assert " with dark days " in model.adjusted_rates("strength", within="dark_days").sentence
    assert " at dark_days 0 (" in rooms.association("strength", within="dark_days").details[0]
    note = next(n.text for n in model.letters("strength").notes if n.code == "main_effect_under_interaction")
    assert note.startswith("The model lets strength act differently by dark_days: ")


def test_averages_say_what_they_are_over(rooms: rl.Trial) -> None:
    both = rooms.model(["strength", "dark_days"]).adjusted_rates("strength")
    assert "averaged over dark_days with equal weights" in both.details[0]
    alone = rooms.model(["strength"]).adjusted_rates("strength")
    assert "averaged" not in alone.details[0]
