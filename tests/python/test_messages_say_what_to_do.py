"""Wrong options are answered in one sentence that names the value and what to do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import rootling as rl
from rootling.exceptions import RootlingError


@pytest.fixture(scope="module")
def factorial() -> rl.Trial:
    return rl.load_trial(
        rl.demo.factorial(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )


def model(trial: rl.Trial) -> rl.models.Model:
    return trial.model(["strength", "rootstock"])


ROW = {"strength": [2500], "rootstock": ["K12"]}
HUGE = "1180591620717411303424 is above 18446744073709551615, the largest taken; give a smaller one, for example 1"
CASES: dict[str, tuple[Callable[[rl.Trial], Any], str]] = {
    "weights of a label": (
        lambda trial: trial.model("strength", weights="tray"),
        'weights="tray" names a column that holds no numbers; name one that covariates= lists when the trial is loaded',
    ),
    "an offset of a label": (
        lambda trial: trial.model("strength", offset="bench"),
        'offset="bench" names a column that holds no numbers; name one that covariates= lists when the trial is loaded',
    ),
    "a new tray without cuttings": (
        lambda trial: model(trial).predict(ROW, new_tray=0),
        "new_tray 0 is a tray without cuttings; give the cuttings of one tray, for example 60",
    ),
    "letters against one level": (
        lambda trial: model(trial).letters("strength", together="dunnett"),
        'together="dunnett" and letters do not go together; letters compare all pairs, so use together="tukey-kramer" '
        'or together="joint"',
    ),
    "a curve within itself": (
        lambda trial: trial.strength_curve(within="strength"),
        'within="strength" is the strength that a curve runs along; name another treatment, or leave within= out',
    ),
    "a curve in common with itself": (
        lambda trial: trial.strength_curve(common=["strength"]),
        'common="strength" is the strength that a curve runs along; name another treatment, or leave common= out',
    ),
    "a seed too large": (lambda trial: model(trial).checks(seed=2**70), f"seed {HUGE}"),
    "a seed of a comparison": (lambda trial: trial.compare("strength", 0, 2500, seed=2**70), f"seed {HUGE}"),
    "a seed of the demo": (lambda trial: rl.demo.factorial(seed=2**70), f"seed {HUGE}"),
    "a seed that is none": (
        lambda trial: model(trial).contrasts("strength", seed=-1),
        "seed -1 is not a whole number of 0 or more; correct it",
    ),
    "a power that is a text": (
        lambda trial: trial.model("dark_days", polynomials={"dark_days": "two"}),
        "polynomials of 'dark_days': 'two' is no whole number of 0 or more; write 1",
    ),
    "polynomials that are a text": (
        lambda trial: trial.model("dark_days", polynomials="dark_days"),
        "polynomials='dark_days' is no dictionary; write polynomials={\"dark_days\": 2}",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_a_wrong_option_is_named_with_what_to_do(factorial: rl.Trial, case: str) -> None:
    ask, said = CASES[case]
    with pytest.raises(RootlingError) as found:
        ask(factorial)
    assert str(found.value) == said
