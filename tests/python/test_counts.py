"""One and two rates from plain counts: targets, bounds, unconditional and paired tests, margins, words, bad input."""

from __future__ import annotations

import json
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError

VALUES = Path(__file__).resolve().parents[1] / "reference" / "values"


def _starting(expected: Any, start: str) -> list[str]:
    return [name for name in expected.entries if name.startswith(start)]


def test_targets(expected: Any) -> None:
    names = _starting(expected, "binom_test_")
    assert len(names) >= 6
    for name in names:
        inputs, values = expected.entries[name]["inputs"], expected.values(name)
        found = rl.rates.against_target(inputs["x"], inputs["n"], inputs["p0"])
        for key, got in (("two_sided", found.p), ("less", found.p_lower), ("greater", found.p_higher)):
            if key in values:
                # expected.json binom_test_*: scipy 1.17.1 binomtest
                expected.check_p(name, got, values[key])


def test_arrays_of_targets_keep_their_shape() -> None:
    rooted, target = np.array([[3], [9]]), np.array([0.2, 0.5, 0.9])
    for method in ("exact", "doubled", "blaker", "mid-p", "score"):
        found = rl.rates.against_target(rooted, 10, target, method=method)
        assert found.p.shape == found.value.shape == (2, 3)
        one = rl.rates.against_target(9, 10, 0.5, method=method)
        assert (found.p[1, 1], found.p_lower[1, 1], found.p_higher[1, 1]) == (one.p, one.p_lower, one.p_higher)
    assert isinstance(rl.rates.against_target(np.int64(3), 10, 0.5).p, float)


def test_bounds() -> None:
    # by hand: (1 - u)^60 = 0.05
    most = rl.rates.interval(0, 60, method="clopper-pearson", sides="upper")
    assert math.isclose(most.high, 1 - 0.05 ** (1 / 60), rel_tol=1e-12)
    assert most.low == 0
    assert "rule of three: 3 / 60 = 5.0 %" in most.sentence
    # two routes: a one-sided bound at 97.5 % is a limit of the 95 % interval
    both = rl.rates.interval([7, 0], [50, 9], method="mid-p")
    low = rl.rates.interval([7, 0], [50, 9], method="mid-p", confidence=0.975, sides="lower")
    assert np.allclose(both.low, low.low, rtol=1e-10, atol=0)
    assert (low.high == 1).all()


def test_long_lists_equal_single_counts() -> None:
    random = np.random.default_rng(3)
    stuck = random.integers(1, 60, 30_000)
    rooted = random.binomial(stuck, 0.4)
    for method in ("clopper-pearson", "blaker", "wilson"):
        many = rl.rates.interval(rooted, stuck, method=method)
        for at in (0, 4095, 4096, 29_999):
            one = rl.rates.interval(int(rooted[at]), int(stuck[at]), method=method)
            assert (one.low, one.high) == (many.low[at], many.high[at])
    rooted[20_000] = 99
    with pytest.raises(CountError, match="entry 20001: 99 rooted of"):
        rl.rates.interval(rooted, stuck, method="clopper-pearson")


def test_unconditional(expected: Any) -> None:
    names = [name for name in _starting(expected, "test2x2_") if "unconditional" in expected.values(name)]
    assert len(names) >= 10
    for name in names:
        table, values = expected.entries[name]["inputs"]["table"], expected.values(name)["unconditional"]
        barnard, boschloo = (rl.tables.unconditional(table, method=method) for method in ("barnard", "boschloo"))
        for got, want in (
            # Published sides are those of the first row, ours of the second.
            ([barnard.p_higher, barnard.p_lower, barnard.p], values["barnard_pooled"]),
            ([boschloo.p_higher, boschloo.p_lower, boschloo.doubled], values["boschloo"]),
        ):
            # expected.json test2x2_*: enumeration with scipy 1.17.1
            expected.check_p(name, got, list(want.values())[:3])
        # expected.json test2x2_*: the other two-sided definition
        expected.check_p(name, boschloo.p, values["boschloo"]["two_sided_fisher_minlike_statistic"])
        exact, fisher = rl.tables.fisher(table), expected.values(name)["fisher"]
        # expected.json test2x2_*: the other definitions of Fisher's test
        expected.check_p(name, [exact.doubled, exact.blaker], [fisher["two_sided_doubled"], fisher["two_sided_blaker"]])


def test_unconditional_results_have_all_faces() -> None:
    found = rl.tables.unconditional([[8, 2], [1, 5]], method="barnard")
    assert found.sentence.startswith("A difference is shown (P = 0.017)")
    assert rl.Result.from_json(found.to_json()) == found
    assert found.table().height == 3
    assert "independent_cuttings" in {note.code for note in found.notes}
    assert repr(found)


def test_paired(expected: Any) -> None:
    names = _starting(expected, "mcnemar_")
    assert len(names) >= 4
    for name in names:
        values = expected.values(name)
        # the references subtract the second from the first, so first and second enter exchanged
        found = rl.tables.paired([list(row) for row in zip(*expected.entries[name]["inputs"]["table"], strict=True)])
        tests = {test.method: test for test in found.tests}
        # expected.json mcnemar_*: statsmodels 0.15.0, scipy 1.17.1
        expected.check_p(name, [tests["exact"].p, found.p], [values["exact_p"], values["mid_p"]])
        for method, key in (("asymptotic", "chi2"), ("asymptotic-corrected", "chi2_cc")):
            # expected.json mcnemar_*: statsmodels 0.15.0
            expected.check(name, tests[method].statistic, values[key][0])
            # expected.json mcnemar_*: statsmodels 0.15.0
            expected.check_p(name, tests[method].p, values[key][1])
        # expected.json mcnemar_*: the score interval
        expected.check(name, [found.low, found.high], values["tango_ci"])
    for name in _starting(expected, "paired_tango_"):
        inputs = expected.entries[name]["inputs"]
        found = rl.tables.paired([[inputs["a"], inputs["c"]], [inputs["b"], inputs["d"]]])
        # expected.json paired_tango_*: printed tables
        expected.check(name, [found.low, found.high], expected.values(name)["value"])


def test_pairs_that_never_differ() -> None:
    found = rl.tables.paired([[3, 0], [0, 4]], method="newcombe")
    assert found.p == 1
    assert found.odds_ratio is None
    assert {note.code for note in found.notes} == {"no_discordant_pair"}
    assert rl.Result.from_json(found.to_json()) == found


def test_exact_differences() -> None:
    cases = json.loads((VALUES / "exact_difference.json").read_text(encoding="utf-8"))["cases"]
    for case in cases[:8]:
        x1, n1, x2, n2 = case["counts"]
        # the reference is p1 - p2, rootling second minus first
        found = rl.compare.difference(x2, n2, x1, n1, method="exact")
        # values/exact_difference.json: brute force over all tables
        assert np.allclose([found.low, found.high], case["limits"], rtol=0, atol=1e-8)


def test_equivalence_in_words() -> None:
    shown = rl.compare.equivalence(312, 400, 308, 400, margin=0.1)
    assert shown.shown
    assert shown.sentence.startswith("The two are equivalent within 10.0 trees per 100 (P ")
    assert "90 % interval" in shown.details[0]
    missed = rl.compare.equivalence(14, 20, 13, 20, margin=0.1, claim="not-worse", method="exact")
    assert not missed.shown
    assert missed.sentence.startswith("It is not shown that the second is less than 10.0 trees per 100 worse")
    assert rl.Result.from_json(missed.to_json()) == missed


def test_zeros_in_words() -> None:
    assert rl.compare.difference(0, 10, 0, 20).sentence.startswith("No difference is shown: no cutting rooted")
    ratio = rl.compare.ratio(0, 10, 0, 20)
    assert (ratio.value, ratio.low, ratio.high) == (None, 0, math.inf)
    assert "can be anything" in ratio.sentence


@pytest.mark.parametrize(
    ("ask", "kind", "message"),
    [
        (lambda: rl.rates.against_target(3, 10, 1.0), CountError, "target 1 is not between 0 and 1"),
        (lambda: rl.rates.against_target([3], 10, [0.5, 60]), CountError, "entry 2: target 60 is not between"),
        (lambda: rl.rates.against_target(3, 10, float("nan")), CountError, "target NaN is not between 0 and 1"),
        (lambda: rl.rates.against_target([3], 10, "much"), CountError, "a target is a rate between 0 and 1"),
        (lambda: rl.rates.against_target([1, 2], [3, 4, 5], 0.5), CountError, "do not belong together"),
        (lambda: rl.rates.against_target(3, 10, 0.5, method="exakt"), ChoiceError, 'did you mean "exact"'),
        (lambda: rl.rates.interval(3, 10, sides="uper"), ChoiceError, 'did you mean "upper"'),
        (lambda: rl.rates.interval(3, 10, method="blaker", sides="upper"), CountError, "joins both tails"),
        (lambda: rl.rates.interval(3, 10, confidence=0.3, sides="upper"), CountError, "one-sided bound 0.3 is outside"),
        (lambda: rl.tables.unconditional([[1, 2], [3, 4]], method="barnards"), ChoiceError, 'did you mean "barnard"'),
        (lambda: rl.tables.unconditional([[1, 2, 3], [3, 4, 5]]), CountError, "the table is not 2 x 2"),
        (lambda: rl.tables.unconditional([[1, 2], [0, 0]]), CountError, "row 2 of the table is all zero"),
        (lambda: rl.tables.unconditional([[10**5, 2], [3, 4]]), CountError, "100009 plants are too many"),
        (lambda: rl.tables.fisher([[10**15, 2], [3, 4]]), CountError, "plants are too many for this exact method"),
        (lambda: rl.tables.unconditional([[1, 2], [3, -4]]), CountError, "whole numbers of 0 or more"),
        (lambda: rl.tables.unconditional([[1, 2], [3, 4.5]]), CountError, "whole numbers of 0 or more"),
        (lambda: rl.tables.paired([[1, 2], [3, 4]], confidence=95), CountError, "confidence 95 is not between 0 and 1"),
        (lambda: rl.tables.paired([[0, 0], [0, 0]]), CountError, "there is no pair"),
        (lambda: rl.tables.paired([[1, 2]]), CountError, "the table is not 2 x 2"),
        (lambda: rl.tables.paired([[1, 2], [3, 4]], method="tangos"), ChoiceError, 'did you mean "tango"'),
        (lambda: rl.compare.equivalence(1, 2, 1, 2, margin=10), CountError, "margin 10 is not above 0 and at most 1"),
        (lambda: rl.compare.equivalence(1, 2, 1, 2, margin=0.1, confidence=0.4), CountError, "one-sided test 0.4"),
        (lambda: rl.compare.equivalence(1, 2, 1, 2, margin=0.1, claim="same"), ChoiceError, "equivalent, not-worse"),
        (lambda: rl.compare.difference(1, 10**5, 1, 2, method="exact"), CountError, "100002 plants are too many"),
        (lambda: rl.compare.odds_ratio(0, 10, 1, 20, method="woolf"), CountError, "one of the four counts is 0"),
        (lambda: rl.compare.difference(1.5, 3, 1, 2), CountError, "count 1.5 is not a whole number"),
        (lambda: rl.compare.difference(True, 3, 1, 2), CountError, "count True is not a whole number"),
    ],
)
def test_bad_input_is_named(ask: Any, kind: type[Exception], message: str) -> None:
    with pytest.raises(kind) as found:
        ask()
    assert message in str(found.value)
    assert "\n" not in str(found.value)


# The largest table that is taken on; its tests run for seconds.
CODE = """
import rootling as rl
print("ready", flush=True)
try:
    while True:
        rl.tables.unconditional([[7000, 3000], [6900, 3100]])
        rl.compare.difference(7000, 10000, 6900, 10000, method="exact")
except KeyboardInterrupt:
    print("stopped", flush=True)
print(rl.tables.unconditional([[7, 3], [6, 4]]).kind, flush=True)
"""


@pytest.mark.parametrize("wait", [0.5, 3.0])
def test_interrupt(wait: float) -> None:
    with subprocess.Popen([sys.executable, "-c", CODE], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(wait)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            assert process.stdout.readline().strip() == "unconditional_test"
            assert process.wait(30) == 0
        finally:
            process.kill()


def test_results_do_not_depend_on_the_number_of_threads() -> None:
    code = (
        "import numpy as np, rootling as rl; stuck = np.arange(1, 20_001); "
        "found = rl.rates.interval(stuck // 3, stuck, method='clopper-pearson'); "
        "exact = rl.tables.unconditional([[700, 300], [690, 310]]); "
        "print(found.low.tobytes().hex(), exact.to_dict()['p'])"
    )
    said = {
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "RAYON_NUM_THREADS": threads},
        ).stdout
        for threads in ("1", "3")
    }
    assert len(said) == 1
