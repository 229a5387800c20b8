"""A choice in money: what it says, its record, what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, RootlingError
from test_seasons import years

NEXT = {"trays": 8, "cuttings": 20, "cost": 500}
ASKED: dict[str, Any] = {
    **{"price": 3.0, "per_cutting": 0.4, "per_tray": 1.0, "of_level": {5000: 0.02}, "saleable": 0.8},
    **{"cuttings_a_season": 20_000, "seasons": 3, "draws": 2000},
}
COUNTS = {0: (2, 3, 1, 4), 2500: (9, 11, 10, 12), 5000: (12, 13, 10, 14)}


def load(counts: dict[int, Sequence[int]], **options: Any) -> rl.Trial:
    levels = [level for level, rooted in counts.items() for _ in rooted]
    rows = {"strength": levels, "tray": range(len(levels)), "rooted": [one for each in counts.values() for one in each]}
    named = {"rooted": "rooted", "stuck": 20, "treatments": ["strength"], "tray": "tray", **options}
    return rl.load_trial({name: list(values) for name, values in rows.items()}, **named)


@cache
def trial() -> rl.Trial:
    return load(COUNTS, strength=rl.Strength("IBA", unit="mg/L"))


@cache
def chosen() -> rl.decide.LevelChoice:
    return rl.decide.choose(trial(), "strength", season_sd=0.3, next_trial=NEXT, money="EUR", **ASKED)


def test_the_choice_is_named_in_money() -> None:
    found = chosen()
    assert (found.best, found.runner_up) == ("5000", "2500")
    assert found.sentence.startswith(("Use 5000 mg/L IBA: ", "Leaning to 5000 mg/L IBA: ", "Try again first: "))
    assert " EUR more a season than 2500 mg/L (" in found.sentence
    assert len(found.sentence.split()) <= 30
    assert found.table()["strength"].to_list() == ["0", "2500", "5000"]
    assert sum(one.chance_best for one in found.levels) == pytest.approx(1.0)
    assert {"tested_range_only", "read_the_label"} <= {one.code for one in found.notes}
    assert found.next_trial is not None
    assert found.next_trial.net == pytest.approx(found.next_trial.value - 500)
    assert found.next_trial.value <= found.perfect_knowledge


def test_gains_are_takes_times_price_less_costs() -> None:
    found = rl.decide.choose(trial(), "strength", **ASKED)
    rates = trial().take_rates("strength").rates
    for level, rate in zip(found.levels, rates, strict=True):
        cost = 0.4 + 1.0 / 20 + (0.02 if level.level == "5000" else 0.0)
        limits = [20_000 * (3.0 * 0.8 * take - cost) for take in (rate.low, rate.high)]
        assert [level.low, level.high] == pytest.approx(limits, abs=150)


def test_a_record_comes_back_and_is_asked_again() -> None:
    assert rl.Result.from_json(chosen().to_json()) == chosen()
    assert isinstance(rl.Result.from_dict(chosen().to_dict()), rl.decide.LevelChoice)
    assert rl.verify(chosen().to_json(), trial()).exact
    other = load({**COUNTS, 5000: (12, 13, 10, 15)}, strength=rl.Strength("IBA", unit="mg/L"))
    assert rl.verify(chosen(), other).data_changed


def test_seasons_pooled_say_how_seasons_differ() -> None:
    pooled = rl.seasons.pool(years(5), "strength", 2500, 5000)
    found = rl.decide.choose(years(1)[0], "strength", pooled=pooled, **ASKED)
    assert found.season_sd is not None
    assert found.season_sd > 0
    again = rl.decide.choose(years(1)[0], "strength", pooled=pooled.to_dict(), **ASKED)
    assert again.numbers == found.numbers
    assert rl.verify(found.to_json(), [years(1)[0], pooled]).exact
    with pytest.raises(ChoiceError, match="pooled holds 2 seasons"):
        rl.decide.choose(years(1)[0], "strength", pooled=rl.seasons.pool(years(2), "strength", 2500, 5000), **ASKED)


def test_a_seed_decides_draws_alone() -> None:
    asked: dict[str, Any] = {"season_sd": 0.3, "next_trial": NEXT, "money": "EUR", **ASKED}
    assert rl.decide.choose(trial(), "strength", **asked) == chosen()
    other = rl.decide.choose(trial(), "strength", seed=2, **asked)
    assert other.low != chosen().low
    assert other.value == pytest.approx(chosen().value, rel=0.05)
    assert [one.take for one in other.levels] == [one.take for one in chosen().levels]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"price": -3.0}, "price=-3 is not a number above 0"),
        ({"per_tray": -1.0}, "per_tray=-1 is no cost"),
        ({"per_cutting": None, "per_tray": None, "of_level": None}, "no cost is given"),
        ({"of_level": {8000: 0.1}}, 'level of strength "8000" is not known'),
        ({"of_level": 0.1}, "does not say of which level"),
        ({"of_level": {5000: "much"}}, "is no amount of money; write of_level={5000: 0.02}"),
        ({"saleable": 80}, "saleable=80 is no share"),
        ({"saleable_limits": 0.7}, "is no pair"),
        ({"saleable_limits": (0.85, 0.9)}, "do not lie within 0 and 1 around"),
        ({"per_day": 0.1}, "it is not known how many days"),
        ({"seasons": 0}, "seasons=0 is not between 1 and 50"),
        ({"season_sd": 9}, "season_sd=9 is not between 0 and 3"),
        ({"pooled": 3}, "is not what seasons pooled are answered with"),
        ({"next_trial": {"trays": 8}}, "does not say trays of each level"),
        ({"next_trial": {**NEXT, "trays": 2.5}}, "is no whole number"),
        ({"next_trial": {**NEXT, "trays": 0}}, "next_trial with trays 0 is no trial"),
        ({"at": {"rootstock": "K12"}}, 'column "rootstock" is not known'),
        ({"price": "3 EUR", "per_tray": "1 USD"}, "price is in EUR and per_tray in USD; nothing is converted here"),
        ({"price": "3 EUR", "money": "CHF"}, "money is in CHF and price in EUR"),
        ({"money": 5}, 'money=5 is no name of a money; write money="EUR", and amounts as price=3 or price="3 EUR"'),
        ({"money": "5"}, "is no name of a money"),
        ({"price": "much"}, "is no amount of money; write price=3.0, or"),
        ({"price": None}, "price=None holds no number"),
        ({"price": True}, "price=True holds no number"),
        ({"price": "1,000 EUR"}, "can be read in two ways"),
        ({"price": "EUR 3 USD"}, "names two moneys"),
        ({"per_tray": "1 EUR per cutting"}, "is said per cutting, and per_tray is per tray"),
        ({"of_level": {5000: "2 USD"}, "price": "3 EUR"}, "price is in EUR and of_level in USD"),
        ({"next_trial": {**NEXT, "cost": "500 USD"}, "price": "3 EUR"}, "and next_trial cost in USD"),
        ({"days": 28}, "days= is given and per_day= is not, so days of darkness would cost nothing"),
        ({"draws": 10}, "draws=10 is not between 1000 and 200000"),
    ],
)
def test_what_cannot_be_is_refused_in_words(wrong: dict[str, Any], words: str) -> None:
    with pytest.raises(RootlingError) as caught:
        rl.decide.choose(trial(), "strength", **{**ASKED, **wrong})
    assert words in str(caught.value)


def test_something_else_than_a_trial() -> None:
    with pytest.raises(RootlingError, match="where a trial is asked"):
        rl.decide.choose(trial().take_rates("strength"), "strength", **ASKED)  # type: ignore[arg-type]


def test_days_of_darkness() -> None:
    found = rl.decide.choose(trial(), "strength", per_day=0.1, days=28, **ASKED)
    assert found.levels[0].cost == pytest.approx(0.4 + (1.0 + 2.8) / 20)
    by_level = rl.decide.choose(trial(), "strength", per_day=0.1, days={0: 0, 2500: 14, 5000: 28}, **ASKED)
    assert by_level.levels[1].cost == pytest.approx(0.4 + (1.0 + 1.4) / 20)


def test_a_figure_has_every_level() -> None:
    axes = chosen().plot().axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["0", "2500", "5000"]
    assert axes.get_xlabel() == "gain a season, EUR"


def test_prices_say_their_money() -> None:
    written = {"price": "3 EUR", "per_cutting": "0,40 EUR per cutting", "per_tray": "EUR 1", "of_level": {5000: "0.02"}}
    found = rl.decide.choose(trial(), "strength", **{**ASKED, **written})
    plain = rl.decide.choose(trial(), "strength", money="EUR", **ASKED)
    assert found.numbers == plain.numbers
    assert found.money == "EUR"
    assert " EUR more a season" in found.sentence
    assert rl.verify(found.to_json(), trial()).exact
    for text in ("3\N{EURO SIGN}", "\N{EURO SIGN} 3.00", "3 eur / tree", "3.0 EUR a tree"):
        assert rl.decide.choose(trial(), "strength", **{**ASKED, "price": text}).price == 3.0
    assert rl.decide.choose(trial(), "strength", **{**ASKED, "price": 5}).money is None
    assert rl.decide.choose(trial(), "strength", **{**ASKED, "price": "1 200.50 kr"}).price == 1200.5
