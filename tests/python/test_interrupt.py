"""A real Ctrl-C ends every long method within a second and leaves the session usable."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time

import pytest
import rootling as rl

# Each of these would take from many seconds to hours; the trial has more assignments than can be counted through.
LONG = {
    "comparison": '_core.compare.strengths(trial._core, "strength", "0", "2500", {"randomisations": 2_000_000_000})',
    "all comparisons": '_core.compare.all_levels(trial._core, "strength", {"compare": {"randomisations": 2 * 10**9}})',
    "association": '_core.tables.association(trial._core, "strength", {"randomisations": 2_000_000_000})',
    "trend of a trial": '_core.tables.trial_trend(trial._core, "strength", '
    '{"trays": "ignore", "exact": {"work": 0, "draws": 10**9}})',
    "randomisation": "rl.compare.randomisation(rates, rates[::-1], draws=10**9)",
    "many intervals": "rl.rates.interval(many // 2, many, method='blaker')",
    "many intervals, mid-p": "rl.rates.interval(many // 3, many, method='mid-p')",
    "many tests": "rl.rates.against_target(many // 2, many, 0.49, method='blaker')",
    "exact difference": "rl.compare.difference(4000, 10_000, 4100, 10_000, method='exact')",
    "exact equivalence": "rl.compare.equivalence(4000, 10_000, 4100, 10_000, margin=0.05, method='exact')",
    "Boschloo": "[rl.tables.unconditional([[4000, 6000], [4100, 5900]]) for _ in range(50)]",
    "Barnard": "[rl.tables.unconditional([[4000, 6000], [4100, 5900]], method='barnard') for _ in range(50)]",
    "exact table": "[rl.tables.freeman_halton(deep, work=10**13) for _ in range(50)]",
    "drawn table": "rl.tables.freeman_halton(wide, work=0, draws=10**9)",
    "drawn large table": "rl.tables.freeman_halton([[10**14, 2 * 10**14], [3 * 10**14, 10**14]], work=0, draws=10**9)",
    "trend": "rl.tables.trend([300] * 6, [1000] * 6, work=10**15)",
    "drawn trend": "rl.tables.trend([1500] * 6, [4000] * 6, work=0, draws=10**9)",
    "linear by linear": "rl.tables.linear_by_linear(wide, draws=10**9)",
    "strata": "[rl.tables.stratified([[[6000, 4000], [5000, 5000]]] * 6) for _ in range(50)]",
    "crossed random effects": "[large.model('strength', trays='random', random=['row', 'column']) for _ in range(99)]",
    "beta-binomial": "[large.model('strength', trays='beta-binomial', correlation_by='row') for _ in range(999)]",
    "adjusted P values": "rl.compare.adjusted_p([k / 1e6 for k in range(200_000)], method='hommel')",
}

CODE = """
import sys
import numpy as np
import rootling as rl
from rootling import _core

jobs = dict(line.split("\\t") for line in sys.argv[1:])
trays = 80
frame = {"strength": [0, 2500] * (trays // 2), "tray": list(range(trays)), "stuck": [20 + k for k in range(trays)],
         "rooted": [k % 20 for k in range(trays)]}
trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
rates = [k / 100 for k in range(60)]
more = range(4000)
several = {"strength": [k % 10 for k in more], "tray": list(more), "stuck": [20 + k % 9 for k in more],
           "rooted": [(7 * k) % 20 for k in more], "row": [k % 41 for k in more], "column": [k // 41 for k in more]}
large = rl.load_trial(several, rooted="rooted", stuck="stuck", treatments="strength", tray="tray",
                      covariates=["row", "column"])
many = np.arange(10_000_000, 14_000_000)
wide = [[9 + (3 * i * j) % 7 for j in range(7)] for i in range(7)]
deep = [[12 if i == j else 2 for j in range(5)] for i in range(5)]
for name, job in jobs.items():
    run = eval("lambda: " + job)
    print("ready", flush=True)
    try:
        run()
        print("done", flush=True)
    except KeyboardInterrupt:
        print("stopped", flush=True)
    # the session goes on
    assert rl.rates.interval(3, 9).low > 0
print(trial.compare("strength", 0, 2500).kind, flush=True)
"""

# Limits of sixteen coefficients with 200,000 rows of their own: some two hundred fits.
MODEL = """
import rootling as rl
n = 200_000
frame = {"strength": [k % 4 for k in range(n)], "bed": [k // 4 % 10 for k in range(n)],
         "length": [(k * 7919 % 1_000_003) / 1e5 for k in range(n)],
         "rooted": [(k * 31 + k // 7) % 5 < 2 for k in range(n)]}
trial = rl.load_trial(frame, rooted="rooted", treatments=["strength", "bed"], covariates="length")
model = trial.model(["strength", "bed", "length"], polynomials={"length": 3})
print("ready", flush=True)
try:
    model.odds_ratios()
except KeyboardInterrupt:
    print("stopped", flush=True)
print(trial.model("strength").what_matters().kind, flush=True)
"""

BOOTSTRAP = """
import rootling as rl
roles = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray", "block": "bench"}
trial = rl.load_trial(rl.demo.two_strengths(seed=1), **roles)
model = trial.model("strength", trays="random")
print("ready", flush=True)
try:
    model.bootstrap_test("strength", draws=1_000_000)
except KeyboardInterrupt:
    print("stopped", flush=True)
print(model.bootstrap_test("strength", draws=99).kind, flush=True)
"""


# Questions of models with very many levels or rows, of very large trays and of very long files.
MANY = """
import sys, time, warnings
import polars as pl
import rootling as rl
warnings.simplefilter("ignore")
roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
def trial(levels, per, **more):
    n = levels * per
    counts = {"strength": [k // per for k in range(n)], "tray": list(range(n)),
              "rooted": [(k * 7919 + k // 3) % 17 + 2 for k in range(n)], "stuck": [20] * n}
    return rl.load_trial(counts | more, **roles)
def rows(wrong, n=3_000_000):
    with open(sys.argv[1] + "/long.csv", "w") as file:
        file.write("strength,tray,rooted,stuck\\n")
        file.writelines(f"{k % 4 * 1000},t{k},{k * 7 % 21 + wrong * (k % 3) * 20},20\\n" for k in range(n))
    return lambda: rl.load_trial(sys.argv[1] + "/long.csv", **roles)
def effects():
    model = trial(700, 3).model("strength")
    return model.what_matters
def odds():
    model = trial(300, 3).model("strength")
    return model.odds_ratios
def predictions():
    model = trial(4, 6).model("strength")
    frame = pl.DataFrame({"strength": [k % 4 for k in range(600_000)]})
    return lambda: model.predict(frame).sentence
def beta_binomial():
    asked = trial(300, 10)
    return lambda: asked.model("strength", trays="beta-binomial")
work = {"effects": effects, "odds": odds, "predictions": predictions, "beta-binomial": beta_binomial,
        "clean": lambda: rows(0), "faulty": lambda: rows(1)}[sys.argv[2]]()
print("ready", flush=True)
try:
    work()
    print("done before", flush=True)
    time.sleep(60)  # The signal is on its way.
except KeyboardInterrupt:
    print("stopped", flush=True)
print(trial(2, 6).model("strength").what_matters().kind, flush=True)
"""


def stops(code: str, names: list[str], last: str, arguments: list[str]) -> None:
    with subprocess.Popen([sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            for name in names:
                assert process.stdout.readline().strip() == "ready", name
                time.sleep(0.4)
                began = time.monotonic()
                process.send_signal(signal.SIGINT)
                assert process.stdout.readline().strip() == "stopped", name
                assert time.monotonic() - began < 1, name
            # the session goes on: a smaller question is answered
            assert process.stdout.readline().strip() == last
            assert process.wait(30) == 0
        finally:
            process.kill()


@pytest.mark.parametrize("names", [list(LONG)[start::3] for start in range(3)])
def test_counts_stop(names: list[str]) -> None:
    stops(CODE, names, "comparison", [f"{name}\t{LONG[name]}" for name in names])


@pytest.mark.parametrize(
    ("code", "last"), [(MODEL, "what_matters"), (BOOTSTRAP, "bootstrap_test")], ids=["limits", "bootstrap"]
)
def test_models_stop(code: str, last: str) -> None:
    stops(code, [last], last, [])


@pytest.mark.parametrize("work", ["effects", "odds", "predictions", "beta-binomial", "clean", "faulty"])
def test_long_work_stops(tmp_path, work: str) -> None:
    """A limit of its own: a child that does not end is killed, and the suite goes on."""
    command = [sys.executable, "-c", MANY, str(tmp_path), work]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        guard = threading.Timer(120, process.kill)
        guard.start()
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(0.5)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            said = process.stdout.readline().strip()
            if said == "done before":
                said, began = process.stdout.readline().strip(), time.monotonic()
            assert (said, time.monotonic() - began < 1.0) == ("stopped", True)
            assert process.stdout.readline().strip() == "what_matters"
        finally:
            guard.cancel()
            process.kill()


@pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")
def test_a_tray_beyond_any_tray_is_refused_and_a_large_one_answered(trial: rl.Trial) -> None:
    model = trial.model("strength")
    with pytest.raises(rl.exceptions.CountError, match="new_tray 2000000 is no tray"):
        model.predict({"strength": [2500]}, new_tray=2_000_000)
    frame = {
        "strength": [0, 0, 1, 1],
        "tray": [1, 2, 3, 4],
        "rooted": [3, 4, 10**9, 5],
        "stuck": [20, 20, 2 * 10**9, 20],
    }
    roles = {"rooted": "rooted", "stuck": "stuck", "treatments": "strength", "tray": "tray"}
    began = time.monotonic()
    rl.load_trial(frame, **roles).model("strength").checks()
    assert time.monotonic() - began < 5
