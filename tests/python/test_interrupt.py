"""A real Ctrl-C ends long work within a second and leaves the session usable."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import pytest

# Eighty trays have more assignments than can be counted through, and the draws asked for would take hours.
CODE = """
import rootling as rl
trays = 80
frame = {"strength": [0, 2500] * (trays // 2), "tray": list(range(trays)), "stuck": [20 + k for k in range(trays)],
         "rooted": [k % 20 for k in range(trays)]}
trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
print("ready", flush=True)
try:
    rl._core.compare.strengths(trial._core, "strength", "0", "2500", {"randomisations": 2_000_000_000})
except KeyboardInterrupt:
    print("stopped", flush=True)
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
print(trial.model("strength").effect_tests().kind, flush=True)
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


@pytest.mark.parametrize(
    ("code", "last"),
    [(CODE, "comparison"), (MODEL, "effect_tests"), (BOOTSTRAP, "bootstrap_test")],
    ids=["draws", "model", "bootstrap"],
)
def test_interrupt(code: str, last: str) -> None:
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(0.5)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            # the session goes on: a smaller question is answered
            assert process.stdout.readline().strip() == last
            assert process.wait(30) == 0
        finally:
            process.kill()
