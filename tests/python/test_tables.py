"""Tables, trends and strata from Python: values, cautions, bad input, Ctrl-C."""

from __future__ import annotations

import json
import math
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rootling as rl
from rootling.exceptions import CountError

HERE = Path(__file__).parent
VALUES = json.loads((HERE.parent / "reference" / "values" / "tables.json").read_text(encoding="utf-8"))
LARGE = [[8, 15, 11, 6, 8], [12, 6, 7, 9, 12], [5, 14, 10, 13, 7], [9, 3, 4, 5, 10]]


def _close(got: float, want: float, rel: float = 1e-9) -> None:
    assert math.isclose(got, want, rel_tol=rel, abs_tol=0.0), (got, want)


def test_generated_values() -> None:
    # values/tables.json: R 4.2.2, statsmodels 0.15.0 and whole-number listing, see make/tables.py
    for case in VALUES["tables"][::6]:
        _close(rl.tables.freeman_halton(case["table"]).p, case["r_exact"])
    for case in VALUES["trends"][::6]:
        found = rl.tables.trend(case["rooted"], case["stuck"], scores=case["scores"])
        _close(found.asymptotic.p, case["p"])
        _close(found.exact.p, case["exact"]["p"])
    for case in VALUES["strata"][::6]:
        # Published effects are those of the first row, ours of the second.
        small = len(case["strata"][0]) == 2 == len(case["strata"][0][0])
        found = rl.tables.stratified([table[::-1] if small else table for table in case["strata"]])
        if "general" in case:
            _close(found.generalised.general.p, case["general"][2])
        else:
            _close(found.exact.p, case["exact"]["p"])
            _close(found.common.odds_ratio.value, case["odds_ratio"])


def test_printed_values(expected: Any) -> None:
    # expected.json, sources there
    rabbits = [[[0, 6], [0, 5]], [[3, 3], [0, 6]], [[6, 0], [2, 4]], [[5, 1], [6, 0]], [[2, 0], [5, 0]]]
    found = rl.tables.stratified([table[::-1] for table in rabbits])
    _close(found.exact.p, expected.values("rabbits_cmh")["exact_p"])
    _close(found.exact.statistic, expected.values("rabbits_cmh")["exact_S"])
    _close(found.exact.odds_ratio.high, 531.5127828899377)
    assert found.uninformative == (1, 5)
    job = [[1, 2, 1, 0], [3, 3, 6, 1], [10, 10, 14, 9], [6, 7, 12, 11]]
    want = expected.values("job_fisher_rxc")
    _close(rl.tables.freeman_halton(job).p, want["fisher_p"])
    _close(rl.tables.linear_by_linear(job).asymptotic.statistic, want["linear_by_linear_chi2"])
    malformed = rl.tables.trend([48, 38, 5, 1, 1], [17114, 14502, 793, 127, 38], scores=[0, 0.5, 1.5, 4, 7])
    _close(malformed.exact.p_higher, expected.values("malformation_trend_exact")["upper"])
    _close(malformed.asymptotic.p, expected.values("malformation_trend")["trend_scores_p"])
    smokers = rl.tables.trend([83, 90, 129, 70], [86, 93, 136, 82])
    _close(smokers.asymptotic.statistic, expected.values("smokers_trend")["trend"])


def test_a_large_table_is_exact() -> None:
    # R 4.2 fisher.test: 0.07702423
    found = rl.tables.freeman_halton(np.array(LARGE))
    assert found.method == "exact"
    _close(found.p, 0.07702423, 1e-7)


def test_beyond_the_work_allowed_tables_are_drawn() -> None:
    found = rl.tables.freeman_halton(LARGE, work=1000, draws=20_000, seed=3)
    assert (found.method, found.draws, found.seed) == ("drawn", 20_000, 3)
    assert abs(found.p - 0.07702423) < 4 * found.se
    assert found == rl.tables.freeman_halton(LARGE, work=1000, draws=20_000, seed=3)


TABLE = "a table holds whole numbers of 0 or more, row by row, for example [[156, 84], [84, 156]]"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: rl.tables.freeman_halton([[1, 2, 3]]),
            "a table of 1 x 3 has no association to test; give at least 2 rows and 2 columns",
        ),
        (
            lambda: rl.tables.freeman_halton([[1], [2]]),
            "a table of 2 x 1 has no association to test; give at least 2 rows and 2 columns",
        ),
        (lambda: rl.tables.freeman_halton([[1, 0, 2], [3, 0, 4]]), "column 2 of the table is all zero; leave it out"),
        (lambda: rl.tables.freeman_halton([[1, -1], [3, 4]]), TABLE),
        (lambda: rl.tables.freeman_halton([[1, math.nan], [3, 4]]), TABLE),
        (lambda: rl.tables.freeman_halton([[1, 2.5], [3, 4]]), TABLE),
        (
            lambda: rl.tables.freeman_halton([[1, 2**60], [3, 4]]),
            "count 1152921504606846976 is above 9007199254740992, the largest that is held exactly; check the entry",
        ),
        (lambda: rl.tables.freeman_halton([[1, 2], [3, 4]], draws=5), "number of draws 5 is outside 99 to 1000000000"),
        (
            lambda: rl.tables.trend(3, 4),
            "rooted and stuck are lists of whole numbers of 0 or more, one entry for each group",
        ),
        (
            lambda: rl.tables.trend([3], [4]),
            "a table of 1 x 2 has no association to test; give at least 2 rows and 2 columns",
        ),
        (
            lambda: rl.tables.trend([3, 1], [4, 4], scores=["a", "b"]),
            "scores are numbers, one for each group, for example [0, 2500, 5000]",
        ),
        (lambda: rl.tables.trend([3, 1], [4, 4], scores=[1]), "scores: 1 for 2 groups; give one for each"),
        (
            lambda: rl.tables.stratified([[[1, 2], [3, 4]]], confidence=95),
            "confidence 95 is not between 0 and 1; give it as a proportion, for example 0.95",
        ),
    ],
)
def test_bad_input(call: Callable[[], object], message: str) -> None:
    with pytest.raises(CountError) as caught:
        call()
    assert str(caught.value) == message


def test_options_that_make_no_sense() -> None:
    with pytest.raises(CountError, match="work -1 is not a whole number of 0 or more"):
        rl.tables.freeman_halton([[1, 2], [3, 4]], work=-1)


def test_trend_of_a_trial() -> None:
    frame = {
        "strength": [0] * 4 + [2500] * 4 + [5000] * 4,
        "tray": list(range(12)),
        "rooted": [4, 6, 5, 3, 9, 8, 11, 7, 12, 14, 11, 15],
        "stuck": [20] * 12,
    }
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
    found = trial.trend("strength")
    assert found.unit == "tray"
    assert found.tests[0].counts == "trays"
    assert found.details[0].startswith("The take rises by 42.5 trees per 100")
    assert found.table()["counts"].to_list()[:2] == ["trays", "trays"]
    assert type(found).from_json(found.to_json()) == found
    assert found.plot().axes
    swapped = trial.trend("strength", scores={0: 2, 2500: 1, 5000: 0})
    _close(swapped.value, -found.value)
    ignored = trial.trend("strength", trays="ignore")
    assert ignored.details[0].startswith("Trays are not counted here")
    assert ignored.p < found.p


CODE = """
import rootling as rl
rows = [[20 + (i * j) % 7 for j in range(7)] for i in range(7)]
print("ready", flush=True)
try:
    rl.tables.freeman_halton(rows, work=10**15, draws=10**9)
except KeyboardInterrupt:
    print("stopped", flush=True)
print(rl.tables.freeman_halton([[3, 1], [1, 3]]).method, flush=True)
"""


def test_interrupt() -> None:
    with subprocess.Popen([sys.executable, "-c", CODE], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(0.7)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            assert process.stdout.readline().strip() == "exact"
            assert process.wait(30) == 0
        finally:
            process.kill()
