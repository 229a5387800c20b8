"""What the units of an answer are called: trays, plants where these are the units, bays where these judge."""

from __future__ import annotations

import warnings
from typing import Any

import matplotlib as mpl
import pytest
import rootling as rl
from rootling.report import words

mpl.use("Agg")
ROOTED = [4, 6, 5, 7, 5, 12, 11, 13, 12, 10]


def _load(data: dict[str, list[Any]], **roles: Any) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        return rl.load_trial(data, rooted="rooted", stuck="stuck", **roles)


@pytest.fixture
def plants() -> rl.Trial:
    """Ten mother plants, five per strength, no trays."""
    data: dict[str, list[Any]] = {"mother_plant": [f"P{at}" for at in range(10)], "strength": [0] * 5 + [4000] * 5}
    return _load({**data, "rooted": ROOTED, "stuck": [20] * 10}, treatments=["strength"], stock_plant="mother_plant")


@pytest.fixture
def bays() -> rl.Trial:
    """Six bays, two per darkness, three trays each."""
    data: dict[str, list[Any]] = {
        "bay": [at // 3 for at in range(18)],
        "dark_days": [20 * (at // 3 % 3) for at in range(18)],
        "rooted": [4 + 3 * (at // 3 % 3) + at % 4 for at in range(18)],
    }
    return _load({**data, "stuck": [20] * 18}, treatments=["dark_days"], tray="each-row", whole_plot="bay")


def test_plants_head_the_column_that_counts_them(plants: rl.Trial) -> None:
    for found in (plants.take_rates("strength"), plants.model("strength").adjusted_rates("strength")):
        assert "mother plants" in str(found).split("\n\n")[2], str(found)
        said = " ".join([found.sentence, *found.details, found.methods, *(note.text for note in found.notes)])
        assert "tray" not in said.replace("tray-rates", ""), said
    assert plants.take_rates("strength").numbers.unit == "mother plant"
    texts = [text.get_text() for text in plants.take_rates("strength").plot().axes[0].texts]
    assert "open marks: single mother plants" in texts


def test_a_trend_counts_what_judges_it(bays: rl.Trial, plants: rl.Trial) -> None:
    found = bays.trend("dark_days")
    assert found.table()["test"][0] == "t on bays"
    assert found.table()["counts"].to_list() == ["bays", "bays", "cuttings"]
    assert found.numbers.tests[0].counts == "trays"
    assert "judged by F on bays minus treatments" in found.methods
    # Two levels are compared, and a line stands below.
    pair = plants.trend("strength")
    assert pair.table()["test"].to_list()[:2] == ["score", "t on mother plants"]
    assert pair.table()["counts"].to_list() == ["mother plants"] * 3 + ["cuttings"]
    assert "The experimental unit was the mother plant" in pair.methods
    # Rates of bays count their trays.
    rates = bays.take_rates("dark_days")
    assert rates.table()["n_units"].to_list() == [6, 6, 6]
    assert "trays" in str(rates).split("\n\n")[2]


def test_an_association_names_the_rates_of_its_units(bays: rl.Trial) -> None:
    found = bays.association("dark_days")
    assert any("of bay rates on" in line for line in found.details), found.details


def test_a_plant_in_several_places_is_a_batch_of_it() -> None:
    data: dict[str, list[Any]] = {
        "mother_plant": [f"P{at // 2}" for at in range(12)],
        "bench": [at % 2 for at in range(12)],
        "strength": [2000 * (at // 6) for at in range(12)],
        "rooted": [*ROOTED, 11, 9],
        "stuck": [20] * 12,
    }
    trial = _load(data, treatments=["strength"], stock_plant="mother_plant", block="bench")
    assert trial.design.unit == "mother plant batch"
    assert "mother plant batches" in str(trial.take_rates("strength"))


def test_the_correlation_is_of_what_the_units_are_called(plants: rl.Trial, bays: rl.Trial) -> None:
    for trial, unit in ((plants, "mother plant"), (bays, "tray")):
        found = trial.tray_correlation()
        for one in (found, rl.Result.from_json(found.to_json())):
            assert one.plot().axes[0].get_xlabel() == f"correlation of two cuttings of one {unit}"
            assert words.question(one) == f"How alike are cuttings of one {unit}?"


def test_plants_are_judged_against_plants(plants: rl.Trial) -> None:
    assert "strength does not change within any mother plant: it is judged against mother plants" in plants.design.lines
    assert "10 mother plants, each in a single level of strength" in plants.design.lines
