"""The main job beside the bare polars group-by it needs: .venv/bin/python tests/benches/side_by_side.py

A million invented cuttings, one row each. Prints each time as the median of several runs and as a multiple of the
group-by, peak memory as a multiple of the frame, and the time to import. README.md beside this file holds the limits.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

CUTTINGS = 1_000_000
RUNS = 7
TREATMENTS = ["strength", "rootstock"]


def records(with_trays: bool) -> pl.DataFrame:
    """Invented records, the same every time."""
    random = np.random.default_rng(1)
    tray = np.arange(CUTTINGS) // 20
    strength = np.array([0, 2500, 5000])[tray % 3]
    rootstock = np.array(["K12", "K17", "K30"])[tray // 3 % 3]
    rooted = random.random(CUTTINGS) < 0.3 + 0.2 * (tray % 3)
    frame = pl.DataFrame({"strength": strength, "rootstock": rootstock, "rooted": rooted.astype(np.int64)})
    return frame.with_columns(tray=pl.Series(tray)) if with_trays else frame


def group_by(frame: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """The counts that every answer starts from."""
    return frame.group_by(by).agg(rooted=pl.col("rooted").sum(), stuck=pl.len())


def median_time(job: Callable[[], object]) -> float:
    """Median time of a job in seconds, after one run to warm up."""
    job()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def peak_kilobytes() -> int:
    """The most memory this process has held; 0 where the system does not tell."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except OSError:
        return 0
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM"))


def import_time(module: str) -> float:
    """Seconds to import a module in a fresh Python, least of several."""
    code = f"import time; start = time.perf_counter(); import {module}; print(time.perf_counter() - start)"
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True) for _ in range(5)]
    return min(float(run.stdout) for run in runs)


def load(frame: pl.DataFrame) -> object:
    """Load and check."""
    import rootling as rl

    tray = "tray" if "tray" in frame.columns else None
    return rl.load_trial(frame, rooted="rooted", treatments=TREATMENTS, tray=tray)


def memory() -> None:
    """Peak memory of load, check and take rates, beyond the memory with the frame alone, as a multiple of the frame."""
    frame = records(with_trays=True)
    before = peak_kilobytes()
    load(frame).take_rates(by="strength")
    size = frame.estimated_size() / 1024
    extra = peak_kilobytes() - before
    print(f"peak memory beyond frame and libraries: {extra / 1024:.0f} MB; frame {size / 1024:.0f} MB")
    print(f"peak with the frame itself: {(extra + size) / size:.2f} x the frame")


def times(with_trays: bool) -> None:
    """All times for records with or without trays."""
    frame = records(with_trays)
    by = [*TREATMENTS, "tray"] if with_trays else TREATMENTS
    base = median_time(lambda: group_by(frame, by))
    trial = load(frame)
    jobs = {
        "group-by alone": lambda: group_by(frame, by),
        "load + check + take rates": lambda: load(frame).take_rates(by="strength"),
        "load + check + model": lambda: load(frame).model(TREATMENTS).effect_tests(),
        "model of the loaded trial": lambda: trial.model(TREATMENTS).effect_tests(),
    }
    print("with trays" if with_trays else "without trays")
    for name, job in jobs.items():
        found = median_time(job)
        print(f"  {name:<28} {1000 * found:8.1f} ms  {found / base:5.2f} x")


def main() -> None:
    """Everything, one part after another; memory in a process of its own."""
    warnings.simplefilter("ignore")
    if "memory" in sys.argv:
        memory()
        return
    for with_trays in (True, False):
        times(with_trays)
    subprocess.run([sys.executable, __file__, "memory"], check=True)
    polars, rootling = import_time("polars"), import_time("rootling")
    print(f"import polars {1000 * polars:.0f} ms, rootling {1000 * (rootling - polars):.0f} ms beyond it")


if __name__ == "__main__":
    main()
