"""Every option of every public question, with silly values: it works, or one sentence of ours names the option."""

from __future__ import annotations

import inspect
import re
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from conftest import ROLES
from rootling.exceptions import ChoiceError, CountError

SILLY: dict[str, Any] = {
    "None": None,
    "tuple": (1, 2),
    "array without dimensions": np.array(3.5),
    "text without dimensions": np.array("strength"),
    "nan": float("nan"),
    "infinite": float("inf"),
    "empty text": "",
    "empty list": [],
    "empty dictionary": {},
    "object": object(),
    "-1": -1,
    "1e308": 1e308,
    "beyond 64 bits": 10**400,
    "long text": "x" * 5000,
    "list of lists": [[None]],
    "dictionary of objects": {"strength": object()},
    "bytes": b"strength",
    "flag": True,
}
SURFACE = {
    "dark_days": [day for day in (14, 28, 42) for _ in range(5)] * 4,
    "strength": [0, 1000, 2000, 4000, 8000] * 12,
    "tray": list(range(60)),
    "rooted": [count + more for more in (0, 1, 2, 0) for count in (3, 8, 11, 9, 4, 5, 12, 14, 11, 3, 6, 13, 13, 8, 2)],
    "stuck": [20] * 60,
    "dead": [0, 0, 1, 1, 3] * 12,
}


def _trial() -> rl.Trial:
    return rl.load_trial(
        SURFACE, rooted="rooted", stuck="stuck", dead="dead", treatments=["strength", "dark_days"], tray="tray"
    )


def _asked() -> dict[str, tuple[Callable[..., Any], dict[str, Any]]]:
    """Each question with arguments that it answers."""
    trial = _trial()
    model, smaller = trial.model(["strength", "dark_days"]), trial.model("strength")
    curve, strength = trial.strength_curve(at={"dark_days": 14}), rl.Strength("IBA", unit="mg/L", method="quick dip")
    pair = {"rooted_1": 5, "stuck_1": 20, "rooted_2": 12, "stuck_2": 20}
    table = {"table": [[5, 15], [12, 8]]}
    by, factor = {"by": "strength"}, {"factor": "strength"}
    return {
        "take_rates": (trial.take_rates, by),
        "trial.compare": (trial.compare, {**factor, "first": 0, "second": 2000}),
        "compare_all": (trial.compare_all, factor),
        "tray_correlation": (trial.tray_correlation, {}),
        "association": (trial.association, {"treatment": "strength"}),
        "trial.trend": (trial.trend, {"treatment": "strength"}),
        "model": (trial.model, {"effects": "strength"}),
        "strength_curve": (trial.strength_curve, {"at": {"dark_days": 14}}),
        "damage_threshold": (trial.damage_threshold, {"at": {"dark_days": 14}}),
        "response_surface": (trial.response_surface, {}),
        "what_matters": (model.what_matters, {}),
        "odds_ratios": (model.odds_ratios, {}),
        "coefficients": (model.coefficients, {}),
        "adjusted_rates": (model.adjusted_rates, by),
        "contrasts": (model.contrasts, by),
        "letters": (model.letters, by),
        "predict": (model.predict, {"frame": {"strength": [0], "dark_days": [14]}}),
        "checks": (model.checks, {}),
        "against": (model.against, {"smaller": smaller}),
        "bootstrap_test": (model.bootstrap_test, {"effect": "strength", "draws": 99}),
        "strength_for": (curve.strength_for, {"take": 0.4}),
        "next_strengths": (curve.next_strengths, {}),
        "rates.interval": (rl.rates.interval, {"rooted": 5, "stuck": 20}),
        "rates.against_target": (rl.rates.against_target, {"rooted": 5, "stuck": 20, "target": 0.5}),
        "rates.tray_correlation": (rl.rates.tray_correlation, {"rooted": [3, 5, 9], "stuck": [20, 20, 20]}),
        "compare.difference": (rl.compare.difference, pair),
        "compare.ratio": (rl.compare.ratio, pair),
        "compare.odds_ratio": (rl.compare.odds_ratio, pair),
        "compare.score_test": (rl.compare.score_test, pair),
        "compare.equivalence": (rl.compare.equivalence, {**pair, "margin": 0.3}),
        "compare.randomisation": (
            rl.compare.randomisation,
            {"first_rates": [0.1, 0.3, 0.2], "second_rates": [0.4, 0.6, 0.5]},
        ),
        "compare.adjusted_p": (rl.compare.adjusted_p, {"p_values": [0.01, 0.2]}),
        "tables.chi_square": (rl.tables.chi_square, table),
        "tables.fisher": (rl.tables.fisher, table),
        "tables.unconditional": (rl.tables.unconditional, table),
        "tables.paired": (rl.tables.paired, table),
        "tables.freeman_halton": (rl.tables.freeman_halton, table),
        "tables.trend": (rl.tables.trend, {"rooted": [3, 5, 9], "stuck": [20, 20, 20]}),
        "tables.linear_by_linear": (rl.tables.linear_by_linear, table),
        "tables.stratified": (rl.tables.stratified, {"strata": [[[5, 15], [12, 8]], [[4, 16], [9, 11]]]}),
        "tables.three_way": (rl.tables.three_way, {"table": [[[5, 15], [12, 8]], [[4, 16], [9, 11]]]}),
        "units.convert": (rl.units.convert, {"value": 2500, "strength": strength, "unit": "g/L"}),
        "units.equivalent": (rl.units.equivalent, {"value": 2500, "strength": strength, "substance": "NAA"}),
        "units.parse": (rl.units.parse, {"text": "2500 mg/L"}),
        "units.plausibility": (rl.units.plausibility, {"value": 2500, "strength": strength}),
        "Strength": (rl.Strength, {"substance": "IBA"}),
        "demo": (rl.demo.two_strengths, {}),
        "load_trial": (rl.load_trial, {"data": rl.demo.two_strengths(seed=1), **ROLES}),
    }


ASKED = _asked()
# What holds counts or rows is named by what is wrong in it, and so are the parts of a strength.
DATA = {"rooted", "stuck", "rooted_1", "stuck_1", "rooted_2", "stuck_2", "table", "strata", "frame", "data", "target"}
CASES = [
    (question, name)
    for question, (function, _) in ASKED.items()
    for name in inspect.signature(function).parameters
    if name not in ("unknown", "cls")
]
# Of a list the place is named, of trays and lists of scores what they are.
ENTRY = re.compile(
    "entry [0-9]|tray rates|first arm|second arm|scores: |P values|molar mass|strength -1 mg/L|differs between trays"
    "|single strength"
)
FOREIGN = ("unexpected type", "NoneType", "object has no attribute", "Traceback", "cannot be converted", "not iterable")


@pytest.mark.parametrize(("question", "option"), CASES, ids=[f"{question}({option})" for question, option in CASES])
def test_silly_values(question: str, option: str) -> None:
    function, given = ASKED[question]
    for what, value in SILLY.items():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
            try:
                repr(function(**{**given, option: value}))
                continue
            except rl.RootlingError as error:
                said = str(error)
        assert not any(part in said for part in FOREIGN), (what, said)
        assert len(said) < 1500, (what, said)
        if option not in DATA and question != "units.parse":
            # A level or name is shown as it was given, with what it is a level of.
            shown = str(value.item() if isinstance(value, np.ndarray) else value).lower()
            assert option in said.replace(" ", "_") or f'"{shown}"' in said or ENTRY.search(said), (what, said)


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("control", 0, 'control=0 does not say of which column; write control={"strength": 0}'),
        ("treatments", None, 'treatments names no column; write treatments=["strength"] with what was tried'),
        (
            "level_order",
            [10, 0],
            'level_order=[10, 0] does not say of which column; write level_order={"strength": [10, 0]}',
        ),
        ("strength", "mg/L", "strength='mg/L' does not say what the numbers are; write strength=rl.Strength("),
        ("bad_rows", "skip", 'bad_rows= option "skip" is not known'),
        ("distinct_levels", "no", "distinct_levels='no' is neither yes nor no"),
        ("header_row", (), "header_row=() is no row number; write header_row=3"),
        ("encoding", 8, "encoding=8 is no text"),
        ("sheet", 3, "sheet=3 is no text"),
    ],
)
def test_load_trial_says_which_option(frame: pl.DataFrame, option: str, value: Any, said: str) -> None:
    with pytest.raises(ChoiceError) as found:
        rl.load_trial(frame, **{**ROLES, option: value})
    assert str(found.value).startswith(said), found.value


def test_a_reference_without_its_column(trial: rl.Trial) -> None:
    with pytest.raises(ChoiceError, match="reference='0' is no dictionary; write reference="):
        trial.model("strength", reference="0")  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match=r"compare has no option 'sed'; did you mean 'seed'\?"):
        trial.compare("strength", 2500, 5000, sed=3)  # type: ignore[call-arg]
    with pytest.raises(CountError, match=r"seed 1\.5 is not a whole number of 0 or more"):
        trial.compare("strength", 2500, 5000, seed=1.5)  # type: ignore[arg-type]


def test_an_infinite_strength_is_no_level() -> None:
    frame = {"strength": [0.0, float("inf")] * 3, "tray": list(range(6)), "rooted": [3] * 6, "stuck": [20] * 6}
    roles = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
    with pytest.raises(rl.TrialDataError, match="inf"):
        rl.load_trial(frame, **roles)
    with pytest.raises(ChoiceError, match="first=inf is no level"):
        _trial().compare("strength", float("inf"), 0)


def test_entries_of_arrays_are_their_values(trial: rl.Trial) -> None:
    plain = trial.compare("strength", 2500, 5000, confidence=0.9)
    assert trial.compare("strength", np.array(2500), np.int64(5000), confidence=np.float64(0.9)) == plain
    assert trial.model(np.array("strength")) == trial.model("strength")  # type: ignore[arg-type]
