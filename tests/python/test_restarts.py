"""Bays and mother plants numbered afresh: loading asks, and the line it gives makes them the units they are."""

from __future__ import annotations

import pickle
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, TrialDataError

NAMED: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}


def _bays() -> dict[str, list[Any]]:
    rows = [(dark, f"B{bay}", strength) for dark in (0, 21) for bay in (1, 2, 3) for strength in (0, 1000, 3000)]
    rooted = [3 + (5 * at + at * at // 3) % 14 for at in range(len(rows))]
    dark, bay, strength = (list(column) for column in zip(*rows, strict=True))
    return {
        "dark_days": dark,
        "bay": bay,
        "strength": strength,
        "tray": list(range(len(rows))),
        "rooted": rooted,
        "stuck": [20] * len(rows),
    }


def _pasted(error: TrialDataError, data: Any) -> rl.Trial:
    space: dict[str, Any] = {"rl": rl, "data": data}
    assert error.paste is not None
    exec(error.paste.replace("load_trial(...", "load_trial(data"), space)
    trial = space["trial"]
    assert isinstance(trial, rl.Trial)
    return trial


@pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
def test_the_line_makes_bays_the_units() -> None:
    data, asked = _bays(), {**NAMED, "treatments": ["dark_days", "strength"]}
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(data, **asked, whole_plot="bay")
    assert [issue.code for issue in found.value.issues] == ["restarted_whole_plots"]
    trial = _pasted(found.value, data)
    told = trial.compare("dark_days", 0, 21)
    unique = {**data, "bay": [f"{dark}{bay}" for dark, bay in zip(data["dark_days"], data["bay"], strict=True)]}
    alone = rl.load_trial(unique, **asked, whole_plot="bay").compare("dark_days", 0, 21)
    # The same numbers as with labels that never repeat; words say within what the bays were numbered.
    assert told.p == pytest.approx(alone.p, rel=1e-12)
    assert told.unit == "bay within dark_days"
    assert "The experimental unit was the bay (numbered within dark days)" in told.methods
    said = " ".join([told.sentence, *told.details])
    assert "bays" in said
    assert "within dark" not in said
    assert "whole plot bay within dark_days: 6 levels" in repr(trial)
    again = pickle.loads(pickle.dumps(trial))
    assert again.fingerprint == trial.fingerprint
    assert again.compare("dark_days", 0, 21).p == told.p
    model = trial.model(["dark_days", "strength"])
    assert "bay within dark" in model.methods


def test_several_columns_name_a_block() -> None:
    data = _bays()
    trial = rl.load_trial(data, **NAMED, treatments="strength", block=["dark_days", "bay"])
    assert "block bay within dark_days: 6 levels; every one holds all levels of strength" in trial.design.lines
    assert "bay within dark_days" in trial.frame.columns


def test_a_column_that_is_not_there_is_named() -> None:
    with pytest.raises(TrialDataError, match='no column "darkness", named as whole_plot'):
        rl.load_trial(_bays(), **NAMED, treatments="strength", whole_plot=["darkness", "bay"])
    with pytest.raises(ChoiceError, match="whole_plot="):
        rl.load_trial(_bays(), **NAMED, treatments="strength", whole_plot=7)
