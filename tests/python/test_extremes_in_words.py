"""Values at the ends of what they can be, as sentences and tables say them."""

from __future__ import annotations

import math
import warnings
from pathlib import Path
from typing import Any

import pytest
import rootling as rl

QUIET = pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")


def load(rooted: list[int], stuck: int, levels: list[Any], **roles: Any) -> rl.Trial:
    data = {"rooted": rooted, "stuck": [stuck] * len(rooted), "strength": levels, "tray": list(range(len(rooted)))}
    return rl.load_trial(data, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray", **roles)


@pytest.fixture(scope="module")
def rising() -> rl.curves.StrengthCurve:
    """A curve that still rises at the highest strength."""
    rooted = [0, 2, 1, 1, 4, 3, 5, 4, 9, 7, 8, 8, 12, 11, 13, 12, 17, 16, 15, 17]
    levels = [strength for strength in (0, 1000, 2000, 4000, 8000) for _ in range(4)]
    return load(rooted, 20, levels, strength=rl.Strength("IBA", unit="mg/L")).strength_curve()


def test_open_limits_of_a_curve_are_open_in_its_table(rising: Any) -> None:
    [row] = rising.table().to_dicts()
    assert row["high"] == math.inf
    assert row["adequate_high"] == math.inf
    # What is known of the curve stays: the end of what was tested, and that it is open.
    assert rising.curves[0].best.strength.high == 8000
    assert rising.curves[0].best.strength.open_high
    assert "no upper limit" in str(rising)
    again = rl.Result.from_json(rising.to_json())
    assert again.table()["high"][0] == math.inf
    assert again == rising


def test_strengths_of_a_table_say_their_unit(rising: Any) -> None:
    head = str(rising).split("\n\n")[2].splitlines()[0]
    assert "value (mg/L)" in head
    assert "enough from (mg/L)" in head
    assert "value (mg/L)" in rising._repr_html_()
    assert "to (mg/L)" in str(rising.strength_for(0.4))


@QUIET
def test_no_take_is_said_to_be_at_least_all_of_100() -> None:
    found = load([2000] * 4 + [0] * 4 + [900, 1000, 1100, 1000], 2000, [1000] * 4 + [0] * 4 + [500] * 4)
    model = found.model("strength", trays="ignore")
    rates = model.adjusted_rates("strength")
    assert rates.rates[2].low > 0.995
    said = rates.sentence + model.letters("strength").sentence
    assert "at least 100" not in said
    assert "at most 0 " not in said
    assert "at least 99." in said or "more than 99.9" in said


@QUIET
def test_a_difference_that_is_nearly_none_is_no_0_fewer_and_0_more() -> None:
    found = load([5_000_000 + x for x in (-900, 0, 900, -800, 10, 800)], 10_000_000, [0] * 3 + [1000] * 3)
    compared = found.compare("strength", 0, 1000)
    assert "between 0.1 fewer and 0.1 more per 100" in compared.sentence
    assert "0.0 fewer" not in compared.sentence
    assert "a gain of up to 0.1 or a loss of up to 0.1 per 100" in " ".join(compared.details)
    model = found.model("strength")
    assert "up to 0.1 trees per 100 remain possible" in model.contrasts("strength").sentence
    checks = " ".join(model.checks().details)
    assert "Leaving out no tray would move a rate by 0.1 trees per 100." in checks
    assert "10^" not in checks


@QUIET
def test_standard_errors_of_rates_are_points() -> None:
    model = load([3, 7, 4, 9, 8, 12, 5, 14], 20, [0] * 4 + [5000] * 4).model("strength")
    for found in (model.adjusted_rates("strength"), model.predict({"strength": [0]})):
        assert " points " in str(found)
        [column] = [one for one in found.to_dict()["table"]["columns"] if one["name"] == "se"]
        assert column["scale"] == "size"


@QUIET
def test_tests_of_an_association_are_named_in_words() -> None:
    trial = load([3, 7, 4, 9, 8, 12, 5, 14, 10, 12, 9, 15], 20, [0] * 4 + [2500] * 4 + [5000] * 4)
    named = trial.association("strength").table()["test"].to_list()
    assert named[0] == "F of tray rates"
    assert "Rao-Scott of second order" in named
    two = load([3, 7, 4, 9, 8, 12, 5, 14], 20, [0] * 4 + [2500] * 4).association("strength")
    assert two.table()["test"][0] == "score on effective cuttings"
    slugs = {
        "tray-rates",
        "rao-scott",
        "rao-scott-first-order",
        "likelihood-ratio",
        "pearson-corrected",
        "freeman-halton",
    }
    assert slugs.isdisjoint([*named, *two.table()["test"]])
    # Numbers keep the names that options take.
    assert two.numbers.method == "score"


@QUIET
def test_a_model_and_its_tests_stand_in_a_report_once(tmp_path: Path) -> None:
    model = load([3, 7, 4, 9, 8, 12, 5, 14], 20, [0] * 4 + [5000] * 4).model("strength")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        page = rl.report.write([model, model.what_matters(), model.odds_ratios()], tmp_path / "report.html")
    assert page.read_text(encoding="utf-8").count("&#34;kind&#34;: &#34;what_matters&#34;") == 1
