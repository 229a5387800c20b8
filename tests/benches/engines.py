"""Cuttings on disk, more than fit into memory: loaded and compared beside the bare group-by that the answer needs.

``engines.py make FOLDER ROWS`` writes invented cuttings of ten seasons as parquet, ten million rows a file;
``engines.py measure FOLDER`` loads and compares them; ``engines.py FOLDER`` does both for a million, ten and a hundred
million rows, and clears each. Each job runs in a process of its own, so that its peak memory is its own. Trays hold 100
cuttings.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
import warnings
from pathlib import Path

import numpy as np
import polars as pl
import rootling as rl

warnings.simplefilter("ignore")
PIECE = 10_000_000
CUTTINGS = 100
STRENGTHS = (0, 1000, 2500, 5000)
ROLES = {
    "rooted": "rooted",
    "treatments": ["strength", "rootstock"],
    "tray": "tray",
    "block": "bench",
    "season": "season",
}
LABELS = ["season", "bench", "tray", "strength", "rootstock"]
# Limits: seconds over those of the group-by, and gigabytes.
TIMES, MEMORY = 1.5, 2.0


def make(folder: Path, rows: int) -> None:
    """Writes the cuttings of so many rows."""
    folder.mkdir(parents=True, exist_ok=True)
    trays = rows // CUTTINGS
    for piece, begin in enumerate(range(0, trays, PIECE // CUTTINGS)):
        draw = np.random.default_rng([7, piece])
        tray = np.arange(begin, min(begin + PIECE // CUTTINGS, trays))
        rate = 1 / (1 + np.exp(-(0.2 * (tray % 4) - 0.5 + draw.normal(0, 0.4, tray.size))))
        of_tray = pl.DataFrame({"number": tray}).select(
            tray=pl.format("T{}", "number"),
            season=(2016 + pl.col("number") * 10 // trays).cast(pl.Int32),
            bench=pl.format("B{}", pl.col("number") // 4 % 40),
            strength=(pl.col("number") % 4).replace_strict(dict(enumerate(STRENGTHS))),
            rootstock=pl.format("K{}", 12 + pl.col("number") // 4 % 3),
        )
        of_cutting = np.repeat(np.arange(tray.size), CUTTINGS)
        frame = of_tray[of_cutting].with_columns(rooted=draw.random(of_cutting.size) < rate[of_cutting])
        frame.write_parquet(folder / f"cuttings-{piece:02d}.parquet")


def _bare(rows: pl.LazyFrame) -> str:
    counts = rows.group_by(LABELS).agg(pl.len(), pl.col("rooted").sum())
    return f"{counts.collect(engine='streaming').height} trays"


def _loaded(rows: pl.LazyFrame) -> str:
    return f"{rl.load_trial(rows, **ROLES).design.n_units} trays"


def _compared(rows: pl.LazyFrame) -> str:
    return rl.load_trial(rows, **ROLES).compare("strength", 2500, 5000).sentence


JOBS = {"group-by alone": _bare, "load and check": _loaded, "load and compare": _compared}


def work(folder: Path, job: str) -> None:
    """One job, timed within its own process."""
    began, processor = time.perf_counter(), time.process_time()
    told = JOBS[job](pl.scan_parquet(folder / "*.parquet"))
    # That of this program alone: what getrusage tells begins with the peak of whoever started it.
    status = Path("/proc/self/status").read_text(encoding="ascii")
    peak = int(status.split("VmHWM:")[1].split()[0]) / 2**20
    print(f"{time.perf_counter() - began:.2f} {time.process_time() - processor:.2f} {peak:.2f} {told}")


def measure(folder: Path) -> None:
    """All jobs, and how they stand to the limits."""
    rows = pl.scan_parquet(folder / "*.parquet").select(pl.len()).collect().item()
    print(f"{rows} rows")
    bare = 0.0
    for job in JOBS:
        ran = subprocess.run(
            [sys.executable, __file__, "work", str(folder), job], capture_output=True, text=True, check=True
        )
        seconds, processor, peak, told = ran.stdout.strip().split(" ", 3)
        bare = bare or float(seconds)
        multiple = f"{float(seconds) / bare:.2f} x (limit {TIMES})"
        took = f"{seconds:>7} s ({processor} s of the processor)"
        print(f"  {job:17} {took}, {multiple}, peak {peak} GB (limit {MEMORY}): {told}")


def main() -> None:
    """What the words ask for."""
    if sys.argv[1] == "work":
        work(Path(sys.argv[2]), sys.argv[3])
    elif sys.argv[1] == "make":
        make(Path(sys.argv[2]), int(sys.argv[3]))
    elif sys.argv[1] == "measure":
        measure(Path(sys.argv[2]))
    else:
        for rows in (10**6, 10**7, 10**8):
            folder = Path(sys.argv[1]) / f"cuttings-{rows}"
            make(folder, rows)
            measure(folder)
            shutil.rmtree(folder)


if __name__ == "__main__":
    main()
