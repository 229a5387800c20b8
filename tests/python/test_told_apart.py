"""What a sentence names must have been judged: levels that carry the test, contrasts and rates that are there."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
import rootling as rl


def _load(data: dict[str, list[Any]], *treatments: str, **more: Any) -> rl.Trial:
    named: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "each-row", "block": "bench"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(data, treatments=list(treatments), **named, **more)


@pytest.fixture(scope="module")
def own_bench() -> rl.Trial:
    """Two workers share five benches; the third stuck all of the sixth."""
    draw = np.random.default_rng(2)
    rows = [
        (f"B{bench}", strength, worker, int(draw.binomial(20, 0.35 + 0.05 * (strength // 2000))))
        for bench in range(5)
        for strength in (0, 2000, 4000)
        for worker in ("one", "two")
    ]
    rows += [("B5", strength, "three", rooted) for strength, rooted in ((2000, 17), (2000, 17), (4000, 17), (4000, 18))]
    names = ("bench", "strength", "worker", "rooted")
    data: dict[str, list[Any]] = {name: [row[at] for row in rows] for at, name in enumerate(names)}
    return _load({**data, "stuck": [20] * len(rows)}, "strength", "worker")


def test_an_association_names_levels_that_it_judged(own_bench: rl.Trial) -> None:
    found = own_bench.association("worker")
    assert "; three cannot be judged" in found.sentence
    assert "87 at three" not in found.sentence
    assert " at three" not in found.sentence


def test_levels_that_meet_are_compared_where_another_does_not(own_bench: rl.Trial) -> None:
    model = own_bench.model(["strength", "worker"])
    found = model.contrasts("worker", together="none")
    rows = {row["comparison"]: row for row in found.table().to_dicts()}
    known = [name for name, row in rows.items() if row["value"] is not None]
    assert known == ["worker two against one"]
    assert "the 1 comparison that can be estimated (2 cannot)" in found.sentence
    said = {note.code: note.text for note in found.notes}
    assert "Averages are over the 5 of 6 levels of bench" in said["averaged_where_told"]


def test_letters_name_the_level_without_a_rate() -> None:
    draw = np.random.default_rng(5)
    cells = [(s, k) for s in (0, 2000, 4000) for k in ("K12", "K17", "K30") if (s, k) != (4000, "K30")]
    rows = [(f"B{b}", s, k, int(draw.binomial(20, 0.3 + s / 10000))) for b in range(4) for s, k in cells]
    names = ("bench", "strength", "rootstock", "rooted")
    data: dict[str, list[Any]] = {name: [row[at] for row in rows] for at, name in enumerate(names)}
    trial = _load({**data, "stuck": [20] * len(rows)}, "rootstock", "strength")
    model = trial.model(["rootstock", "strength"], interactions=[("rootstock", "strength")])
    assert model.adjusted_rates("strength").sentence.endswith("; no rate for 4000.")
    sentence = model.letters("strength").sentence
    assert sentence.startswith("Highest of those with a rate: strength 2000")
    assert "; 4000 has none" in sentence
    assert "of the 1 comparison that can be estimated (2 cannot)" in model.contrasts("strength").sentence.lower()


@pytest.mark.parametrize("seed", range(4))
def test_a_trend_over_two_levels_is_their_comparison(seed: int) -> None:
    draw = np.random.default_rng(seed)
    rows = [(f"B{b}", s, int(draw.binomial(20, 0.4 + 0.05 * (s > 2500)))) for b in range(6) for s in (2500, 5000)]
    rows.pop(int(draw.integers(12)))
    data: dict[str, list[Any]] = {
        name: [row[at] for row in rows] for at, name in enumerate(("bench", "strength", "rooted"))
    }
    trial = _load({**data, "stuck": [20] * len(rows)}, "strength")
    line, pair = trial.trend("strength"), trial.compare("strength", 2500, 5000)
    assert (line.value, line.low, line.high, line.p) == (pair.value, pair.low, pair.high, pair.p)
    turned = trial.trend("strength", scores={"2500": 2, "5000": 1})
    assert (turned.value, turned.low, turned.high, turned.p) == (-pair.value, -pair.high, -pair.low, pair.p)


DEADLY = {0: (0, 0), 1000: (3, 0), 2000: (9, 0), 4000: (18, 0), 8000: (12, 7)}


@pytest.fixture(scope="module")
def deadly() -> rl.Trial:
    """Nearly all root at 4000; at 8000 a third dies, and more root than without hormone all the same."""
    draw = np.random.default_rng(1)
    rows = [
        (f"B{b}", s, min(20 - dead, max(0, rooted + int(draw.integers(-1, 2)))), dead)
        for b in range(5)
        for s, (rooted, dead) in DEADLY.items()
    ]
    names = ("bench", "strength", "rooted", "dead")
    data: dict[str, list[Any]] = {name: [row[at] for row in rows] for at, name in enumerate(names)}
    return _load({**data, "stuck": [20] * len(rows)}, "strength", dead="dead")


def test_a_comparison_names_the_deaths_of_what_roots_best(deadly: rl.Trial) -> None:
    sentence = deadly.compare("strength", 0, 8000).sentence
    assert sentence.startswith("Leaning to strength 8000")
    assert "35 more of 100 die there" in sentence


def test_next_strengths_end_where_deaths_rise(deadly: rl.Trial) -> None:
    curve = deadly.strength_curve()
    found = curve.next_strengths()
    tested = [place.strength for one in found.curves for design in one.designs for place in design.strengths]
    assert max(tested) <= 8000
    assert "ends_where_deaths_rise" in {note.code for note in found.notes}
