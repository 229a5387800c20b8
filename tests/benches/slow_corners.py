"""Time and memory of what took long: many levels, robust errors in many blocks, small fits with integrals, trends.

Each job runs in a process of its own, so that its peak memory is its own. Limits stand beside the figures; on a busy
machine read the processor's time, which is printed beside that of the clock.
"""

from __future__ import annotations

import math
import random
import resource
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from typing import Any

import polars as pl
import rootling as rl

warnings.simplefilter("ignore")
COLUMNS = ["plant", "strength", "block", "tray", "rooted", "stuck"]


def _trial(plants: int, strengths: int, blocks: int, trays: int, *, sd: float = 0.5) -> rl.Trial:
    draw, rows = random.Random(plants + blocks), []
    for at in range(plants * strengths * blocks * trays):
        plant, strength = at % plants, at // plants % strengths
        block = at // (plants * strengths) % blocks
        rate = 1.0 / (1.0 + math.exp(-(0.4 * strength - 0.5 + draw.gauss(0.0, sd))))
        rooted = sum(draw.random() < rate for _ in range(20))
        rows.append((f"P{plant:04d}", str(1000 * strength), f"B{block:03d}", f"T{at}", rooted, 20))
    frame = pl.DataFrame(rows, schema=COLUMNS, orient="row")
    asked = [name for name, n in (("plant", plants), ("strength", strengths)) if n > 1]
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}
    return rl.load_trial(frame, treatments=asked, block="block" if blocks > 1 else None, **roles)


def _plots() -> rl.Trial:
    """12 trays, one whole plot per strength."""
    counts = [0, 0, 20, 0, 0, 11, 0, 15, 18, 0, 10, 20]
    rows = [(f"{1000 * (at % 3)}", f"W{at % 3}", f"T{at}", y, 20) for at, y in enumerate(counts)]
    frame = pl.DataFrame(rows, schema=["strength", "plot", "tray", "rooted", "stuck"], orient="row")
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "whole_plot": "plot"}
    return rl.load_trial(frame, treatments=["strength"], **roles)


def _demo() -> rl.Trial:
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
    return rl.load_trial(rl.demo.strengths(), treatments=["rootstock", "strength"], **roles)


def _robust() -> rl.Trial:
    return _trial(1, 4, 500, 5)


# What is made ready, what is timed, and the limits in seconds and megabytes.
JOBS: dict[str, tuple[Callable[[], Any], Callable[[Any], Any], float, float]] = {
    "tests of 200 levels": (
        lambda: _trial(200, 2, 1, 3).model(["plant", "strength"]),
        lambda m: m.what_matters(),
        1,
        300,
    ),
    "tests of 400 levels": (
        lambda: _trial(400, 2, 1, 3).model(["plant", "strength"]),
        lambda m: m.what_matters(),
        1,
        300,
    ),
    "tests of 990 levels": (
        lambda: _trial(990, 2, 1, 3).model(["plant", "strength"]),
        lambda m: m.what_matters(),
        5,
        300,
    ),
    "a model of 990 levels": (lambda: _trial(990, 2, 1, 3), lambda t: t.model(["plant", "strength"]), 5, 300),
    "odds ratios of 200 levels": (
        lambda: _trial(200, 2, 1, 3).model(["plant", "strength"]),
        lambda m: m.odds_ratios(),
        1,
        300,
    ),
    "odds ratios of 400 levels": (
        lambda: _trial(400, 2, 1, 3).model(["plant", "strength"]),
        lambda m: m.odds_ratios(),
        4,
        300,
    ),
    "trays random, a plot per strength": (
        _plots,
        lambda t: t.model("strength", numeric="strength", link="probit", trays="random"),
        1,
        300,
    ),
    "trend of the demo": (_demo, lambda t: t.trend("strength"), 0.05, 300),
    "robust, 10,000 trays in 500 blocks": (_robust, lambda t: t.model("strength", trays="robust"), 10, 1000),
    "its tests": (lambda: _robust().model("strength", trays="robust"), lambda m: m.what_matters(), 10, 1000),
}


def _run(name: str) -> None:
    """One job: seconds by the clock and of the processor, and peak memory."""
    ready, job, most_time, most_memory = JOBS[name]
    made = ready()
    clock, work = time.perf_counter(), time.process_time()
    job(made)
    clock, work = time.perf_counter() - clock, time.process_time() - work
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{name:36} {clock:8.3f} s  {work:8.3f} s  {peak:6.0f} MB   (limits {most_time:g} s, {most_memory:g} MB)",
        flush=True,
    )


def main() -> None:
    """Every job in a process of its own."""
    if len(sys.argv) > 1:
        _run(sys.argv[1])
        return
    print(f"{'':36} {'clock':>10}  {'processor':>10}  peak memory")
    for name in JOBS:
        subprocess.run([sys.executable, __file__, name], check=True, timeout=600)


if __name__ == "__main__":
    main()
