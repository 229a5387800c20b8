"""A real Ctrl-C ends long work within a second and leaves the session usable."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

# Forty trays of unequal size make an exact enumeration impossible, and the draws asked for would take minutes.
CODE = """
import sys
import rootling as rl
trays = 40
frame = {"strength": [0, 2500] * (trays // 2), "tray": list(range(trays)), "stuck": [20 + k for k in range(trays)],
         "rooted": [k % 20 for k in range(trays)]}
trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
print("ready", flush=True)
try:
    rl._core.compare.strengths(trial._core, "strength", "0", "2500", {"randomisations": 10**10})
except KeyboardInterrupt:
    print("stopped", trial.design.n_units, flush=True)
"""


def test_interrupt() -> None:
    with subprocess.Popen([sys.executable, "-c", CODE], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline().strip() == "ready"
        time.sleep(1)
        began = time.monotonic()
        process.send_signal(signal.SIGINT)
        assert process.stdout.readline().strip() == "stopped 40"
        assert time.monotonic() - began < 1
        assert process.wait(10) == 0
