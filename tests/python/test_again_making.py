"""How a record says it was made, held against asking it again: strengths, options, seeds."""

from __future__ import annotations

from typing import Any

import pytest
import rootling as rl


def test_strengths_declared_otherwise_are_told() -> None:
    """The fingerprint is of counts; what their strengths are stands beside it."""
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
    data = rl.demo.two_strengths(seed=1)
    iba = rl.load_trial(data, **roles, strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
    naa = rl.load_trial(data, **roles, strength=rl.Strength("NAA", unit="mg/L", method="quick dip"))
    asked = (
        lambda trial: trial.compare("strength", 2500, 5000),
        lambda trial: trial.take_rates("strength"),
        lambda trial: trial.model(["strength"]).what_matters(),
    )
    for question in asked:
        kept = question(iba).to_json()
        assert rl.verify(kept, iba if "what_matters" not in kept else iba.model(["strength"])).agrees
        found = rl.verify(kept, naa if "what_matters" not in kept else naa.model(["strength"]))
        assert not found.agrees
        assert found.sentence.endswith("IBA, mg/L, quick dip in the record, NAA, mg/L, quick dip now.")


def test_the_same_numbers_of_another_substance_are_told() -> None:
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
    table = rl.demo.two_strengths(seed=1)
    iba = rl.load_trial(table, **roles, strength=rl.Strength("IBA", unit="mg/L"))
    with pytest.warns(rl.exceptions.StrengthWarning):
        naa = rl.load_trial(table, **roles, strength=rl.Strength("NAA", unit="mM"))
    for ask in (lambda trial: trial.compare("strength", 2500, 5000), lambda trial: trial.take_rates("strength")):
        kept = ask(iba).to_dict()
        assert rl.verify(kept, iba).exact
        told = rl.verify(kept, naa)
        assert not told.agrees
        assert told.sentence.endswith("but strengths are declared otherwise: IBA, mg/L in the record, NAA, mM now.")
        # Of another version words may be others; substance and unit may not.
        kept["made_with"]["version"] = "0.0.9"
        assert rl.verify(kept, iba).agrees
        assert "IBA, mg/L in the record, NAA, mM now" in rl.verify(kept, naa).sentence
    plain = rl.load_trial(table, **roles)
    assert not rl.verify(iba.compare("strength", 2500, 5000), plain).agrees
    assert rl.verify(plain.compare("strength", 2500, 5000), plain).exact


def test_edited_options_and_seeds_are_told() -> None:
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
    trial = rl.load_trial(rl.demo.two_strengths(seed=1), **roles)
    kept = trial.compare("strength", 2500, 5000).to_dict()
    kept["made_with"]["options"] = [
        [name, "1500 and 9000" if name == "levels" else value] for name, value in kept["made_with"]["options"]
    ]
    found = rl.verify(kept, trial)
    assert not found.agrees
    assert "its options read otherwise" in found.sentence
    pooled = rl.tables.chi_square([[9, 11], [15, 5]]).to_dict()
    pooled["made_with"]["seed"] = 99
    found = rl.verify(pooled)
    assert not found.agrees
    assert "its seed reads otherwise" in found.sentence
