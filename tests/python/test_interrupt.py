"""A real Ctrl-C ends long work within a second and leaves the session usable."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

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


def _interrupted(code: str, kind: str) -> None:
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline().strip() == "ready"
            time.sleep(0.5)
            began = time.monotonic()
            process.send_signal(signal.SIGINT)
            assert process.stdout.readline().strip() == "stopped"
            assert time.monotonic() - began < 1
            # the session goes on: the same question, with few draws, is answered
            assert process.stdout.readline().strip() == kind
            assert process.wait(30) == 0
        finally:
            process.kill()


def test_interrupt() -> None:
    _interrupted(CODE, "comparison")


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


def test_interrupt_of_a_bootstrap() -> None:
    _interrupted(BOOTSTRAP, "bootstrap_test")
