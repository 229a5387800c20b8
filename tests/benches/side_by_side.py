"""The main job beside the bare polars group-by it needs: .venv/bin/python tests/benches/side_by_side.py

A million invented cuttings, one row each, without trays, in 2,400 trays and in 50,000. Prints for each layout the
times, the same as multiples of the group-by, and the peak memory as a multiple of the frame; then the time to import.
With the word "shuffled" the rows stand in random order. README.md beside this file holds the limits.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

CUTTINGS = 1_000_000
ROUNDS = 5
LAYOUTS = (0, 2_400, 50_000)
TREATMENTS = ["strength", "rootstock"]
STATUS, RESET = Path("/proc/self/status"), Path("/proc/self/clear_refs")


def records(trays: int, *, shuffled: bool) -> pl.DataFrame:
    """Invented records, the same every time; tray by tray unless shuffled. Treatments always take turns."""
    random = np.random.default_rng(1)
    tray = np.arange(CUTTINGS) * (trays or 50_000) // CUTTINGS
    if shuffled:
        random.shuffle(tray)
    rooted = random.random(CUTTINGS) < 0.3 + 0.2 * (tray % 3)
    columns = {
        "strength": np.array([0, 2500, 5000])[tray % 3],
        "rootstock": pl.Series(["K12", "K17", "K30"])[tray // 3 % 3],
        "rooted": rooted.astype(np.int64),
    }
    if trays:
        columns["tray"] = pl.Series([f"T{number:05}" for number in range(trays)])[tray]
    return pl.DataFrame(columns).rechunk()


def keys(frame: pl.DataFrame) -> list[str]:
    """What tells the groups apart."""
    return [name for name in frame.columns if name != "rooted"]


def group_by(frame: pl.DataFrame) -> pl.DataFrame:
    """The counts that every answer starts from."""
    return frame.group_by(keys(frame)).agg(rooted=pl.col("rooted").sum(), stuck=pl.len())


def load(frame: pl.DataFrame) -> object:
    """Load and check."""
    import rootling as rl

    tray = "tray" if "tray" in frame.columns else None
    return rl.load_trial(frame, rooted="rooted", treatments=TREATMENTS, tray=tray)


def least_times(jobs: dict[str, Callable[[], object]]) -> dict[str, float]:
    """The least time of each job in seconds. The jobs take turns, so that a busy moment falls on all of them."""
    for job in jobs.values():
        job()
    least = dict.fromkeys(jobs, float("inf"))
    for _ in range(ROUNDS):
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            least[name] = min(least[name], time.perf_counter() - start)
    return least


def times(trays: int, *, shuffled: bool) -> dict[str, float]:
    """Prints the times of one layout and returns the multiples that have limits."""
    frame = records(trays, shuffled=shuffled)
    trial = load(frame)
    found = least_times(
        {
            "group-by alone": lambda: group_by(frame),
            "load + check": lambda: load(frame),
            "load + check + take rates": lambda: load(frame).take_rates(by="strength"),
            "load + check + model": lambda: load(frame).model(TREATMENTS).what_matters(),
            "model of the loaded trial": lambda: trial.model(TREATMENTS).what_matters(),
        }
    )
    base = found["group-by alone"]
    for name, seconds in found.items():
        print(f"  {name:<28} {1000 * seconds:8.1f} ms  {seconds / base:5.2f} x")
    return {
        "load+rates / group-by": found["load + check + take rates"] / base,
        "model / group-by": found["model of the loaded trial"] / base,
        "load+model / group-by": found["load + check + model"] / base,
    }


def kilobytes(entry: str) -> int:
    """An entry of this process's memory record."""
    lines = STATUS.read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(entry))


def memory(path: str) -> None:
    """Prints how far the memory of this fresh process peaks above that with the frame, as a multiple of the frame.

    The frame comes from a file, so that no memory used for making it is left to be used again unseen; a look at every
    entry brings it into memory, and a small job the programs' own pages.
    """
    frame = pl.read_ipc(path)
    frame.select(pl.all().hash().sum())
    load(frame.gather_every(1000)).take_rates(by="strength")
    size = frame.estimated_size() / 1024
    before = kilobytes("VmRSS")
    RESET.write_text("5", encoding="ascii")
    load(frame).take_rates(by="strength")
    print((kilobytes("VmHWM") - before + size) / size)


def peak_memory(trays: int, *, shuffled: bool) -> float:
    """Peak memory of load, check and take rates with the frame itself, as a multiple of the frame."""
    if not RESET.exists():
        return float("nan")
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "records.arrow")
        records(trays, shuffled=shuffled).write_ipc(path)
        command = [sys.executable, __file__, "memory", path]
        return float(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def import_time(module: str) -> float:
    """Seconds to import a module in a fresh Python, least of several."""
    code = f"import time; start = time.perf_counter(); import {module}; print(time.perf_counter() - start)"
    runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True) for _ in range(5)]
    return min(float(run.stdout) for run in runs)


def main() -> None:
    """Everything, one layout after another; memory in a process of its own."""
    warnings.simplefilter("ignore")
    if sys.argv[1:2] == ["memory"]:
        memory(sys.argv[2])
        return
    shuffled = "shuffled" in sys.argv
    summary = []
    for trays in LAYOUTS:
        name = f"{trays:,} trays" if trays else "no trays"
        print(name)
        ratios = times(trays, shuffled=shuffled)
        ratios["peak memory / frame"] = peak_memory(trays, shuffled=shuffled)
        summary.append(f"{name:<14}" + "   ".join(f"{what} {ratio:.2f}" for what, ratio in ratios.items()))
    print("\n".join(summary))
    polars, rootling = import_time("polars"), import_time("rootling")
    print(f"import polars {1000 * polars:.0f} ms, rootling {1000 * (rootling - polars):.0f} ms beyond it")


if __name__ == "__main__":
    main()
