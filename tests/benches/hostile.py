"""Seconds, memory and the time to stop of work that once froze: ``hostile.py [work] [seconds to Ctrl-C]``.

``hostile.py interrupts [times]`` sends Ctrl-C from outside at random moments of reading ten million rows.
"""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl
import rootling as rl

ROLES: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}


def trial(levels: int, per: int) -> rl.Trial:
    """Trays of many levels."""
    n = levels * per
    counts = {
        "strength": [k // per for k in range(n)],
        "tray": list(range(n)),
        "rooted": [(k * 7919 + k // 3) % 17 + 2 for k in range(n)],
        "stuck": [20] * n,
    }
    return rl.load_trial(counts, **ROLES)


def long_file(faulty: int, n: int = 10**7) -> Path:
    """Ten million rows; of a faulty one every third counts more rooted than stuck."""
    path = Path(tempfile.mkdtemp()) / "long.csv"
    with path.open("w", encoding="utf-8") as file:
        file.write("strength,tray,rooted,stuck\n")
        for start in range(0, n, 10**5):
            part = range(start, min(start + 10**5, n))
            file.writelines(f"{k % 4 * 1000},t{k},{k * 7 % 21 + faulty * (k % 3) * 20},20\n" for k in part)
    return path


def wide_file(columns: int = 10**5) -> Path:
    """Very many columns."""
    path = Path(tempfile.mkdtemp()) / "wide.csv"
    lines = ["strength,tray,rooted,stuck," + ",".join(f"c{k}" for k in range(columns))]
    lines += [f"{k % 2},t{k},3,20" + ",1" * columns for k in range(6)]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def _model(levels: int, per: int, **how: Any) -> Any:
    return trial(levels, per).model("strength", **how)


def _load(path: Path) -> Callable[[], object]:
    return lambda: rl.load_trial(path, **ROLES)


def _twins() -> Callable[[], object]:
    n = 20_000
    counts = {
        "strength": [k % 2 for k in range(n)],
        "tray": ["a", "b"] * (n // 2),
        "rooted": [3] * n,
        "stuck": [20] * n,
    }
    return lambda: rl.load_trial(counts, **ROLES)


def _giant() -> Callable[[], object]:
    counts = {
        "strength": [0, 0, 1, 1],
        "tray": [1, 2, 3, 4],
        "rooted": [3, 4, 10**9, 5],
        "stuck": [20, 20, 2 * 10**9, 20],
    }
    return rl.load_trial(counts, **ROLES).model("strength").diagnostics  # type: ignore[no-any-return]


def _predictions() -> Callable[[], object]:
    model, frame = _model(4, 6), pl.DataFrame({"strength": [k % 4 for k in range(600_000)]})
    return lambda: model.predict(frame)


WORK: dict[str, Callable[[], Callable[[], object]]] = {
    "effect tests of 400 levels": lambda: _model(400, 3).what_matters,
    "odds ratios of 200 levels": lambda: _model(200, 3).odds_ratios,
    "600,000 predictions": _predictions,
    "beta-binomial, 300 levels": lambda: lambda: _model(300, 10, trays="beta-binomial"),
    "one tray of 2e9": _giant,
    "clean csv of 10^7 rows": lambda: _load(long_file(0)),
    "faulty csv of 10^7 rows": lambda: _load(long_file(1)),
    "20,000 rows of two trays": _twins,
    "100,000 columns": lambda: _load(wide_file()),
}


def one(name: str, stop_after: float | None) -> None:
    """Does one piece of work in this process."""
    warnings.simplefilter("ignore")
    work, sent, how = WORK[name](), 0.0, "done"
    if stop_after is not None:

        def stop() -> None:
            nonlocal sent
            sent = time.monotonic()
            os.kill(os.getpid(), signal.SIGINT)

        threading.Timer(stop_after, stop).start()
    began = time.monotonic()
    try:
        work()
    except KeyboardInterrupt:
        how = f"stopped after {time.monotonic() - sent:.2f} s"
    except rl.RootlingError:
        how = "refused"
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{name:28} {time.monotonic() - began:8.2f} s {memory:8.0f} MB  {how}", flush=True)
    os._exit(0)


READER = """
import sys, time, warnings
import rootling as rl
warnings.simplefilter("ignore")
roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
print("ready", flush=True)
try:
    rl.load_trial(sys.argv[1], **roles)
    print("loaded", flush=True)
except KeyboardInterrupt:
    print("stopped", flush=True)
except rl.RootlingError:
    print("refused", flush=True)
"""


def interrupts(times: int, longest: float = 60.0) -> None:
    """Ctrl-C from another process, at random moments from the start to the end of reading."""
    draw = random.Random(14)
    for faulty in (0, 1):
        path = long_file(faulty)
        whole, late = longest, list[float]()
        for at in range(times + 1):
            with subprocess.Popen(
                [sys.executable, "-c", READER, str(path)], stdout=subprocess.PIPE, text=True
            ) as child:
                assert child.stdout is not None
                child.stdout.readline()
                began = time.monotonic()
                if at:
                    time.sleep(draw.uniform(0.0, whole))
                    began = time.monotonic()
                    child.send_signal(signal.SIGINT)
                said = child.stdout.readline().strip()
                if at == 0:
                    whole = time.monotonic() - began
                elif said == "stopped":
                    late.append(time.monotonic() - began)
                child.kill()
        told = f"{len(late)} of {times} stopped, after {max(late, default=0.0):.2f} s at most"
        shutil.rmtree(path.parent)
        print(f"{'faulty' if faulty else 'clean':8} read in {whole:.1f} s; {told}", flush=True)


def main() -> None:
    """All work, each in a process of its own, or one piece."""
    if sys.argv[1:2] == ["interrupts"]:
        interrupts(int(sys.argv[2]) if len(sys.argv) > 2 else 10)
        return
    if len(sys.argv) > 1:
        one(sys.argv[1], float(sys.argv[2]) if len(sys.argv) > 2 else None)
    for name in WORK:
        subprocess.run([sys.executable, __file__, name], timeout=600, check=False)


if __name__ == "__main__":
    main()
