"""What curve answers say: a decision in at most thirty words, facts a line each, hints that exist, numbers as read.

All data are invented (nursery Bramblescar, rootstocks K12 and K17).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import CurveError

MOST_WORDS = 30
IBA = rl.Strength("IBA", unit="mg/L", method="quick dip")
# Rooted of 20: heat, bay, then two trays at each of 0, 2000 and 4000 mg/L.
BAYS = {
    ("cool", "2"): [6, 7, 8, 10, 12, 6],
    ("cool", "4"): [7, 6, 5, 7, 11, 6],
    ("warm", "1"): [15, 13, 15, 17, 12, 16],
    ("warm", "3"): [15, 12, 19, 15, 15, 17],
}


def bays() -> rl.Trial:
    rows: dict[str, list[Any]] = {name: [] for name in ("heat", "bay", "strength", "rooted", "dead", "stuck", "tray")}
    for (heat, bay), counts in BAYS.items():
        for at, rooted in enumerate(counts):
            values = (heat, bay, 2000 * (at // 2), rooted, at // 2, 20, len(rows["tray"]))
            for name, value in zip(rows, values, strict=True):
                rows[name].append(value)
    return rl.load_trial(
        rows,
        rooted="rooted",
        stuck="stuck",
        dead="dead",
        treatments=["heat", "strength"],
        tray="tray",
        whole_plot="bay",
        strength=IBA,
    )


def demo() -> rl.Trial:
    return rl.load_trial(
        rl.demo.strengths(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "rootstock"],
        tray="tray",
        block="bench",
        strength=IBA,
    )


def answers() -> list[Any]:
    trial = bays()
    found: list[Any] = []
    for curve in (
        trial.strength_curve(within="heat"),
        trial.strength_curve(at={"heat": "warm"}),
        demo().strength_curve(within="rootstock"),
        demo().strength_curve(at={"rootstock": "K12"}),
        demo().strength_curve(at={"rootstock": "K12"}, trays="ignore"),
    ):
        found += [curve, curve.strength_for(0.6), curve.strength_for(0.97), curve.next_strengths()]
        if len(curve.curves) > 1:
            found.append(curve.differences())
    return [*found, trial.damage_threshold(within="heat"), trial.damage_threshold(at={"heat": "cool"})]


def test_decisions_are_short_and_facts_have_lines(tmp_path: Path) -> None:
    for number, found in enumerate(answers()):
        assert len(found.sentence.split()) <= MOST_WORDS, found.sentence
        assert found.sentence.endswith("."), found.sentence
        assert found.sentence[0].isupper(), found.sentence
        assert found.details, found.sentence
        assert found.sentence not in found.details
        assert all(line and "\n" not in line for line in found.details)
        assert "no upper limit mg/L" not in repr(found)
        found.plot().savefig(tmp_path / f"{number}.svg")


def test_the_level_over_bays_is_near_take_rates() -> None:
    # Two routes: the curve of one take for all strengths, and take rates over bays (Wilson's interval).
    trial = bays()
    curve = trial.strength_curve(within="heat", shape="flat")
    rates = {row["heat"]: row for row in trial.take_rates(by="heat").table().iter_rows(named=True)}
    for name, best in curve.best_strength.items():
        assert abs(best.take - rates[name]["value"]) < 0.005
        assert abs(best.take_low - rates[name]["low"]) < 0.03
        assert abs(best.take_high - rates[name]["high"]) < 0.03


def test_bays_judge_heights_as_they_judge_a_comparison() -> None:
    trial = bays()
    tests = {test.method: test for test in trial.strength_curve(within="heat").differences().tests}
    assert "no difference" not in tests
    assert tests["same height"].error_df == 2
    # The score of the comparison and the curves' heights take one mean square: P within a factor of two.
    p = trial.compare("heat", "cool", "warm").p
    assert 0.5 < tests["same height"].p / p < 2


def test_hints_name_options_that_are_there() -> None:
    trial = demo()
    with pytest.raises(CurveError, match="for a curve each, in common= for one curve of all, or keep"):
        trial.strength_curve()
    with pytest.raises(CurveError, match="name it in within= for a curve each, or keep one level") as caught:
        bays().damage_threshold()
    assert "common=" not in str(caught.value)
    data = rl.demo.factorial(seed=2)
    factorial = rl.load_trial(
        data,
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
        strength=IBA,
    )
    with pytest.raises(CurveError, match="differs between trays too; keep one level with at=") as caught:
        factorial.response_surface()
    assert "within=" not in str(caught.value)


def test_tables_show_shares_in_percent_and_strengths_whole() -> None:
    curve = demo().strength_curve(at={"rootstock": "K12"})
    shown = repr(curve)
    best = curve.best_strength
    assert f"{100 * best.take:.1f} %" in shown
    assert f"{best.strength.value:.0f}" in shown
    assert "take from" in shown
    assert "take low" not in shown
    assert "e+0" not in shown
    assert "not shown to be more than 5 fewer, from" in shown
    assert "nearly as good" not in shown
    # What trays are for is no reason against anything.
    following = repr(curve.next_strengths())
    assert " %" in following.split("width, of today's")[1]
    assert "why not" not in following


def test_strength_0_has_its_mark() -> None:
    figure = bays().strength_curve(at={"heat": "warm"}).strength_for(0.5).plot()
    axes = figure.axes[0]
    assert axes.get_xticklabels()[0].get_text() == "0"
    marks = [line for line in axes.lines if line.get_marker() not in ("None", "<", ">")]
    assert any(line.get_xdata()[0] == axes.get_xticks()[0] for line in marks)


def test_damage_says_what_it_rests_on() -> None:
    found = bays().damage_threshold(at={"heat": "cool"})
    assert any("It rests on 3 strengths: 0, 2000 and 4000" in line for line in found.details)
