"""Earlier trials of the place: loading with them, what is said of it, records and pickles."""

from __future__ import annotations

import json
import pickle
from typing import Any

import polars as pl
import pytest
import rootling as rl

NAMED: dict[str, Any] = {
    "rooted": "rooted",
    "stuck": "stuck",
    "treatments": ["length"],
    "tray": "tray",
    "whole_plot": "bay",
}


def _counts(seed: int, bay: str = "bay") -> pl.DataFrame:
    """Two lengths of darkness, two bays each, four trays of 20 a bay; counts written by a rule."""
    rows = [
        {
            "length": length,
            bay: f"b{2 * length + place}",
            "tray": f"t{8 * length + 4 * place + at}",
            "rooted": 8 + 2 * length + ((seed + 3 * place) % 4) + (seed * (at + 1) + place) % 5,
            "stuck": 20,
        }
        for length in range(2)
        for place in range(2)
        for at in range(4)
    ]
    return pl.DataFrame(rows)


def _trial(seed: int, **more: Any) -> rl.Trial:
    return rl.load_trial(_counts(seed), **NAMED, **more)


def test_earlier_trials_add_degrees_of_freedom_to_every_verb() -> None:
    earlier = [_trial(seed) for seed in (1, 2, 3)]
    alone, told = _trial(7), _trial(7, earlier=earlier)
    assert any("3 earlier trials add" in line for line in told.design.lines)
    assert told.fingerprint == alone.fingerprint
    for ask in (
        lambda trial: trial.compare("length", "0", "1"),
        lambda trial: trial.association("length"),
        lambda trial: trial.take_rates("length"),
    ):
        assert "Smyth 2004" in ask(told).methods
        assert "Smyth 2004" not in ask(alone).methods
        assert "earlier_trials" in {note.code for note in ask(told).notes}
    with_them = told.model(["length"]).what_matters()
    assert "Smyth 2004" in with_them.methods


def test_records_do_for_trials_and_all_of_it_is_kept() -> None:
    record = json.loads(json.dumps(_trial(1).for_later()))
    told = _trial(7, earlier=[record])
    assert told.design.lines == _trial(7, earlier=[_trial(1)]).design.lines
    again = pickle.loads(pickle.dumps(told))
    assert again.design.lines == told.design.lines
    found = told.compare("length", "0", "1")
    assert found.to_dict() == again.compare("length", "0", "1").to_dict()


def test_what_cannot_be_taken_over_is_refused() -> None:
    pooled = rl.load_trial(_counts(1), **{**NAMED, "tray": None})
    with pytest.raises(rl.exceptions.TrialDataError, match="has no trays recorded"):
        _trial(7, earlier=[pooled])
    other = rl.load_trial(_counts(1, "room"), **{**NAMED, "whole_plot": "room"})
    with pytest.raises(rl.exceptions.TrialDataError, match='calls its whole_plot column "room", this one "bay"'):
        _trial(7, earlier=[other])
    with pytest.raises(rl.exceptions.TrialDataError, match="the very counts of this one"):
        _trial(7, earlier=[_trial(7)])
    with pytest.raises(rl.exceptions.TrialDataError, match="neither a trial nor the record of one"):
        _trial(7, earlier=["spring.csv"])
