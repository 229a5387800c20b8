"""What comparisons and models say where little can be said: no more than the numbers do."""

from __future__ import annotations

import warnings
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import CountError

NAMED: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}


def _load(data: Any, *treatments: str, **roles: Any) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        return rl.load_trial(data, **NAMED, treatments=list(treatments), **roles)


def test_the_unit_of_few_is_named() -> None:
    bays = {
        "dark_days": [0] * 6 + [21] * 6,
        "bay": ["a", "a", "b", "b", "c", "c", "d", "d", "e", "e", "f", "f"],
        "rooted": [4, 5, 7, 8, 6, 5, 9, 8, 12, 11, 13, 12],
        "stuck": [20] * 12,
        "tray": list(range(12)),
    }
    notes = {
        note.code: note.text for note in _load(bays, "dark_days", whole_plot="bay").compare("dark_days", 0, 21).notes
    }
    assert notes["few_trays"].startswith("Fewer than four bays in a level")


def test_trays_of_other_sizes_are_no_other_mix() -> None:
    rows = [
        (level, stock, 18 + (3 * at + 5 * (stock == "K17")) % 5)
        for level in (0, 1000)
        for stock in ("K12", "K17")
        for at in range(4)
    ]
    strength, stock, stuck = (list(column) for column in zip(*rows, strict=True))
    rooted = [5 + at % 4 + 5 * (level > 0) for at, level in enumerate(strength)]
    data = {"strength": strength, "rootstock": stock, "rooted": rooted, "stuck": stuck, "tray": list(range(16))}
    bays = [f"b{at // 4}{at % 4}" for at in range(16)]
    found = _load({**data, "bay": bays}, "strength", "rootstock", block="bay").compare("strength", 0, 1000)
    assert "unequal_mix" not in {note.code for note in found.notes}


def test_trays_without_a_survivor_are_named() -> None:
    data = {
        "strength": [0] * 4 + [20000] * 4,
        "rooted": [4, 5, 6, 5, 0, 0, 0, 0],
        "dead": [1, 0, 2, 1, 20, 20, 20, 20],
        "stuck": [20] * 8,
        "tray": list(range(8)),
    }
    trial = _load(data, "strength", dead="dead")
    with pytest.raises(CountError, match="strength 20000 has no survivor in its 4 trays"):
        trial.compare("strength", 0, 20000, outcome="rooted-of-survivors")


def test_nothing_beyond_all_trees_is_left_open() -> None:
    data = {
        "cultivar": ["C1", "C2", "C3"] * 6,
        "tray": list(range(18)),
        "rooted": [0, 9, 20, 0, 8, 20, 0, 11, 20, 0, 7, 20, 0, 12, 20, 0, 9, 20],
        "stuck": [20] * 18,
    }
    model = _load(data, "cultivar").model(["cultivar"])
    assert model.what_matters().table()["not_ruled_out"].max() <= 1
    contrasts = model.contrasts("cultivar").table()
    assert contrasts["high"].null_count() == 0
    assert contrasts["high"].max() <= 1


# Invented: two strengths on four benches.
PAIRS = {
    "bench": ["N0", "N0", "N1", "N1", "N2", "N2", "N3", "N3"],
    "strength": [1500, 8000] * 4,
    "rooted": [6, 3, 10, 5, 9, 2, 16, 6],
    "dead": [4, 11, 0, 7, 1, 9, 1, 8],
    "stuck": [19, 17, 14, 19, 14, 14, 20, 17],
    "tray": list(range(8)),
}


def test_no_difference_shown_is_not_called_none() -> None:
    found = _load(PAIRS, "strength", block="bench", dead="dead").compare("strength", 1500, 8000)
    assert found.p < 0.05
    assert "deaths make" not in found.sentence
    rooted = next(one for one in found.beside if one["outcome"] == "rooted-of-survivors")
    assert rooted["p"] > 0.05
    # Seen from 1500, which has the higher take.
    low, high = round(-100 * rooted["high"]), round(-100 * rooted["low"])
    assert found.sentence.endswith(f"; survival differs, rooting of survivors is not shown to ({low} to {high}).")
    assert len(found.sentence.split()) <= 30


def test_a_second_opinion_gives_its_own_p_value() -> None:
    # One pair of five turned round: 4 of 32 deals reach as far on either side, 2 would if none were.
    data = {
        "bench": [f"N{at // 2}" for at in range(10)],
        "strength": [1500, 8000] * 5,
        "rooted": [4, 5, 16, 6, 15, 5, 17, 4, 16, 5],
        "stuck": [8] * 2 + [20] * 8,
        "tray": list(range(10)),
    }
    found = _load(data, "strength", block="bench")
    told = found.compare("strength", 1500, 8000)
    assert told.p < 0.05
    dealt = told.randomisation
    assert (dealt["p"], dealt["smallest_p"]) == (4 / 32, 2 / 32)
    line = next(line for line in told.details if "cannot confirm" in line)
    assert "it gives P = " in line


def test_methods_say_what_a_reader_needs_to_redo_them() -> None:
    told = _load(PAIRS, "strength", block="bench", dead="dead").compare("strength", 1500, 8000).methods
    assert "m the sum of m^2 over the sum of m" in told
    assert "N / (N - 1)" in told
