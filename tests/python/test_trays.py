"""Tray correlation, randomisation, adjusted P values and all comparisons through Python."""

from __future__ import annotations

import json
import math
import pickle
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rootling as rl
from matplotlib.figure import Figure

VALUES = json.loads((Path(__file__).parents[1] / "reference" / "values" / "trays.json").read_text())["entries"]


def _of(what: str) -> list[dict[str, Any]]:
    return [entry for entry in VALUES if entry["what"] == what]


def _results(trial: rl.Trial) -> list[rl.Result]:
    return [
        trial.tray_correlation(),
        trial.compare_all("strength"),
        rl.rates.tray_correlation([3, 9, 6, 12], [20] * 4),
        rl.compare.randomisation([0.2, 0.3, 0.25, 0.15], [0.6, 0.7, 0.55, 0.75]),
    ]


def test_every_face_is_there(trial: rl.Trial) -> None:
    for result in _results(trial):
        assert result.sentence.endswith(".")
        assert result.methods
        assert result.references
        assert result.table().height > 0
        assert isinstance(result.plot(), Figure)
        assert rl.Result.from_json(result.to_json()) == result
        assert type(pickle.loads(pickle.dumps(result))) is type(result)
        assert result.sentence.split()[0] in repr(result)


@pytest.mark.parametrize("entry", _of("adjusted_p"), ids=lambda entry: f"{entry['method']}-{len(entry['p'])}")
def test_adjusted_p(entry: dict[str, Any]) -> None:
    # trays.json: statsmodels 0.15.0 multipletests
    got = rl.compare.adjusted_p(np.array(entry["p"]), method=entry["method"])
    assert all(math.isclose(a, b, rel_tol=1e-12) for a, b in zip(got, entry["want"], strict=True))


@pytest.mark.parametrize("entry", _of("randomisation"), ids=lambda entry: f"{len(entry['strata'])} strata")
def test_randomisation(entry: dict[str, Any]) -> None:
    first = [rate for pair in entry["strata"] for rate in pair[0]]
    second = [rate for pair in entry["strata"] for rate in pair[1]]
    strata = tuple([at for at, pair in enumerate(entry["strata"]) for _ in pair[side]] for side in (0, 1))
    got = rl.compare.randomisation(first, second, strata=strata, confidence=entry["level"])
    # trays.json: all assignments gone through with numpy
    assert math.isclose(got.p, entry["p"], rel_tol=1e-12)
    assert math.isclose(got.low, entry["limits"][0], abs_tol=1e-9)
    assert math.isclose(got.high, entry["limits"][1], abs_tol=1e-9)


def test_tray_correlation_of_lists() -> None:
    for entry in _of("correlation"):
        rooted = [x for arm in entry["arms"] for x in arm[0]]
        stuck = [m for arm in entry["arms"] for m in arm[1]]
        treatment = [at for at, arm in enumerate(entry["arms"]) for _ in arm[0]]
        got = rl.rates.tray_correlation(rooted, stuck, treatment=treatment)
        # trays.json: analysis of variance of single cuttings with scipy 1.17.1 F
        for found, want in zip((got.value, got.low, got.high), entry["anova"], strict=True):
            assert math.isclose(found, want, rel_tol=1e-9)
        fitted = rl.rates.tray_correlation(rooted, stuck, treatment=treatment, method="beta-binomial")
        # trays.json: scipy 1.17.1 betabinom maximised
        assert math.isclose(fitted.value, entry["beta_binomial"][0], rel_tol=1e-5)


def test_two_levels_are_one_pair(trial: rl.Trial) -> None:
    one = trial.compare("strength", 2500, 5000)
    pair = trial.compare_all("strength", against=2500).pairs[0]
    assert (pair.value, pair.low, pair.p) == (one.value, one.low, one.p)
    assert pair.p_adjusted == pair.p


@pytest.mark.parametrize(
    ("ask", "kind", "words"),
    [
        (
            lambda: rl.compare.adjusted_p([0.1, math.nan]),
            rl.exceptions.CountError,
            "entry 2: P value NaN is outside 0 to 1",
        ),
        (
            lambda: rl.compare.adjusted_p("0.1"),
            rl.exceptions.CountError,
            "P values must be a list of numbers, for example [0.2, 0.35]",
        ),
        (
            lambda: rl.compare.adjusted_p([0.1], method="holms"),
            rl.exceptions.ChoiceError,
            'adjustment "holms" is not known; did you mean "holm"?',
        ),
        (
            lambda: rl.compare.randomisation([20, 30], [0.5]),
            rl.exceptions.CountError,
            "entry 1: tray rate 20 is outside 0 to 1",
        ),
        (
            lambda: rl.compare.randomisation([0.2], [0.5], strata=([1], [1, 2])),
            rl.exceptions.CountError,
            "strata: 2 for 1 trays of the second arm; give one for each",
        ),
        (
            lambda: rl.compare.randomisation([0.2], [0.5], strata="ab "),
            rl.exceptions.CountError,
            "strata is a pair of lists",
        ),
        (
            lambda: rl.compare.randomisation([0.2], [0.5], draws=0),
            rl.exceptions.CountError,
            "draws 0 is outside 1 to 1000000000",
        ),
        (
            lambda: rl.rates.tray_correlation([3, 2], [20]),
            rl.exceptions.CountError,
            "the lists differ in length: 2 rooted, 1 stuck; give both for every entry",
        ),
        (
            lambda: rl.rates.tray_correlation([3, 30], [20, 20]),
            rl.exceptions.CountError,
            "entry 2: 30 rooted of 20 stuck; the number rooted cannot exceed the number stuck",
        ),
        (
            lambda: rl.rates.tray_correlation([[3, 5]], [[20, 20]]),
            rl.exceptions.CountError,
            "rooted and stuck are lists with one entry per tray",
        ),
        (
            lambda: rl.rates.tray_correlation([3, 5], [20, 20], confidence=95),
            rl.exceptions.CountError,
            "confidence 95 is not between 0 and 1",
        ),
    ],
)
def test_what_cannot_be_is_refused(ask: Any, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind) as caught:
        ask()
    assert str(caught.value).startswith(words)


def test_names_in_questions_are_checked(trial: rl.Trial) -> None:
    with pytest.raises(rl.exceptions.ChoiceError, match='did you mean "donner"'):
        trial.association("strength", method="doner")  # type: ignore[arg-type]
    with pytest.raises(rl.exceptions.ChoiceError, match="level of strength"):
        trial.compare_all("strength", against=1234)


# Hours of drawing, by a randomisation test of plain lists and by an adjustment of a very long list.
CODE = """
import rootling as rl
print("ready", flush=True)
try:
    {call}
except KeyboardInterrupt:
    print("stopped", flush=True)
print(rl.compare.adjusted_p([0.5]), flush=True)
"""


@pytest.mark.parametrize(
    "call",
    [
        "rl.compare.randomisation([k / 99 for k in range(99)], [k / 98 for k in range(98)], draws=10**9)",
        "rl.compare.adjusted_p([k / 10**6 for k in range(10**6)], method='hommel')",
    ],
)
def test_interrupt(call: str) -> None:
    with subprocess.Popen([sys.executable, "-c", CODE.format(call=call)], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(0.8)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            assert process.stdout.readline().strip() == "[0.5]"
            assert process.wait(30) == 0
        finally:
            process.kill()
