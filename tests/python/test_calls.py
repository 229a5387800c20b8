"""A wrong call is answered in words with the nearest right one; Python's own errors never reach the user."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from typing import Any

import pytest
import rootling as rl
from rootling._given import nearest
from rootling.exceptions import ChoiceError, CountError, RootlingError


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    return rl.load_trial(
        rl.demo.strengths(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "rootstock"],
        tray="tray",
        block="bench",
        strength=rl.Strength("IBA", unit="mg/L", method="quick dip"),
    )


WRONG: list[tuple[Callable[[Any], Any], str]] = [
    (lambda t: t.compare("strength", 0, 500, 1000), "trial.compare_all('strength')"),
    (lambda t: t.compare("strength"), "compare needs first and second"),
    (lambda t: t.compare("strength", 0, 500, confidnce=0.9), "did you mean 'confidence'?"),
    (lambda t: t.compare("strength", 0, 500, conf=0.9), "compare has no option 'conf'; did you mean 'confidence'?"),
    (lambda t: t.compare("strength", 0, 500, at="K12"), "at={\"rootstock\": 'K12'}"),
    (lambda t: t.compare(["strength"], 0, 500), "is no name"),
    (lambda t: t.compare_all("strength", agains=0), "did you mean 'against'?"),
    (lambda t: t.compare_all("strength", together="bonf"), 'did you mean "bonferroni"?'),
    (lambda t: t.take_rates("strength", 0.9), "name what follows: confidence="),
    (lambda t: t.take_rates(foo=1), "take_rates has no option 'foo'; its options are"),
    (lambda t: t.trend("strength", scores=[1, 2]), "is no dictionary"),
    (lambda t: t.association("strength", within=["rootstock"]), "is no name"),
    (lambda t: t.model(), "model needs effects"),
    (lambda t: t.model(["strength"], interact=[]), "did you mean 'interactions'?"),
    (lambda t: t.model(["strength"]).letters(), "letters needs treatment"),
    (lambda t: t.model(["strength"]).contrasts("strength", agianst=0), "did you mean 'against'?"),
    (lambda t: t.strength_curve(withn="rootstock"), "did you mean 'within'?"),
    (lambda t: rl.compare.difference(1, 2, 3), "difference needs stuck_2"),
    (lambda t: rl.compare.difference(1, 2, 3, 4, "wald"), "name what follows: method="),
    (lambda t: rl.compare.difference(1, 2, 3, 4, stuck_1=3), "twice"),
    (lambda t: rl.rates.interval(3, 10, metod="wilson"), "did you mean 'method'?"),
    (lambda t: rl.Strength("IBA", units="mg/L"), "did you mean 'unit'?"),
    (lambda t: rl.Strength(), "Strength needs substance"),
    (lambda t: rl.load_trial(), "load_trial needs data"),
    (lambda t: rl.load_trial({}, "rooted"), "name what follows: rooted="),
    (lambda t: rl.demo.two_strengths(sed=1), "did you mean 'seed'?"),
    (lambda t: rl.report.write(t), "write needs path"),
]


@pytest.mark.parametrize(("call", "part"), WRONG, ids=[part for _, part in WRONG])
def test_a_wrong_call_says_the_right_one(trial: rl.Trial, call: Callable[[Any], Any], part: str) -> None:
    with pytest.raises(ChoiceError) as found:
        call(trial)
    assert part in str(found.value)
    assert found.value.__cause__ is None


@pytest.mark.parametrize(
    ("call", "part"),
    [
        (lambda t: t.compare("strength", 0, 500, nearly="much"), "nearly='much' is no number"),
        (lambda t: t.strength_curve(draws="many"), "draws many is not a whole number of 0 or more"),
        (lambda t: rl.rates.interval(3, 10, confidence="much"), "confidence much is not a number"),
        (lambda t: rl.Trial.trend(t, "strength", seed="luck"), "seed luck is not a whole number"),
    ],
)
def test_what_is_no_number_where_one_belongs_is_an_error_of_counts(
    trial: rl.Trial, call: Callable[[Any], Any], part: str
) -> None:
    with pytest.raises(CountError, match=part) as found:
        call(trial)
    assert isinstance(found.value, ValueError)


def test_every_public_verb_answers_an_unknown_keyword_in_words() -> None:
    modules = (rl.compare, rl.demo, rl.rates, rl.report, rl.tables, rl.units)
    calls = [(name, getattr(module, name)) for module in modules for name in module.__all__]
    verbs = [(name, call) for name, call in calls if inspect.isfunction(call)]
    verbs += [(name, call) for name, call in inspect.getmembers(rl.Trial, inspect.isfunction) if name[0] != "_"]
    verbs += [(name, call) for name, call in inspect.getmembers(rl.models.Model, inspect.isfunction) if name[0] != "_"]
    assert len(verbs) > 40
    for name, call in verbs:
        with pytest.raises(RootlingError, match="has no option 'nosuch'"):
            call(nosuch=1)
        assert call.__doc__, name


def test_the_nearest_name_prefers_a_beginning() -> None:
    assert nearest("strat", ["startle", "strategy"]) == "strategy"
    assert nearest("nosuch", ["level", "trays"]) is None


def test_an_error_inside_stays_what_it_is() -> None:
    with pytest.raises(ChoiceError, match="did you mean"):
        rl.rates.interval(3, 10, method="wilsn")


@pytest.mark.parametrize(
    ("name", "said"),
    [("take_rate", "did you mean 'take_rates'"), ("plot", "trial.take_rates().plot()"), ("anova", "it can be asked: ")],
)
def test_a_trial_answers_a_name_that_it_does_not_have(name: str, said: str) -> None:
    trial = rl.load_trial(
        {"mix": ["a", "b"] * 4, "rooted": [3, 9] * 4, "stuck": [20] * 8, "tray": list(range(8))},
        rooted="rooted",
        stuck="stuck",
        treatments="mix",
        tray="tray",
    )
    with pytest.raises(AttributeError) as found:
        getattr(trial, name)
    assert said in str(found.value)
    assert not hasattr(trial, "_repr_mimebundle_")
    with pytest.raises(ChoiceError, match="say which holds the strengths, for example strength='mix'"):
        trial.strength_curve()
    with pytest.raises(CountError, match=r"nearly 10 is outside 0 to 1; .* 0.1 for 10 trees per 100"):
        trial.compare("mix", "a", "b", nearly=10)
    with pytest.raises(ChoiceError, match="write treatment='mix', within='bench'"):
        trial.model(["mix"]).adjusted_rates(["mix", "bench"])
    with pytest.raises(ChoiceError, match=r"write at=.*name of a treatment.*K12"):
        trial.compare("mix", "a", "b", at="K12")


def test_no_code_is_suggested_for_another(trial: rl.Trial) -> None:
    with pytest.raises(ChoiceError) as found:
        trial.compare("rootstock", "K13", "K12")
    assert '"K13" is not known; known: K12' in str(found.value)
