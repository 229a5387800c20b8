"""Levels, or several names, where a treatment is asked for: the error ends with the line that was meant."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError

ROLES = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    return rl.load_trial(rl.demo.factorial(seed=1), **ROLES, treatments=["strength", "dark_days", "rootstock"])


@pytest.mark.parametrize(
    ("verb", "given", "line"),
    [
        ("compare_all", ["K12", "K17"], "trial.compare('rootstock', 'K12', 'K17')"),
        ("compare_all", [0, 2500], "trial.compare('strength', 0, 2500)"),
        ("compare_all", np.array([0.0, 2500.0]), "trial.compare('strength', 0.0, 2500.0)"),
        ("compare_all", ["K12", "K17", "K30"], "trial.compare_all('rootstock')"),
        ("compare_all", "K12", "trial.compare_all('rootstock')"),
        ("compare_all", 0, "trial.compare_all('strength')"),
        ("compare_all", ["strength"], "trial.compare_all('strength')"),
        ("compare_all", ["rootstock", "strength"], "trial.compare_all('rootstock')"),
        ("compare_all", ["a", "b"], "trial.compare_all('strength')"),
        ("compare_all", [], "trial.compare_all('strength')"),
        ("association", ["K12", "K17"], "trial.association('rootstock')"),
        ("trend", [0, 2500], "trial.trend('strength')"),
    ],
)
def test_the_line_that_was_meant(trial: rl.Trial, verb: str, given: Any, line: str) -> None:
    with pytest.raises(ChoiceError) as caught:
        getattr(trial, verb)(given)
    # one sentence, which ends in the line
    sentence, pasted = str(caught.value).split(" write ")
    assert pasted == line
    assert not re.search(r"\. [A-Z]|\n", sentence)
    assert eval(pasted, {"trial": trial}).sentence


def test_a_name_near_that_of_a_treatment_keeps_its_hint(trial: rl.Trial) -> None:
    with pytest.raises(ChoiceError, match='did you mean "strength"'):
        trial.compare_all("strenght")
    with pytest.raises(ChoiceError, match='"K99" is not known'):
        trial.compare_all("rootstock", against="K99")
