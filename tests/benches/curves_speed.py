"""How long strength curves take: all shapes of three rootstocks with drawn trials, limits, the next trial, a surface.

Run from the top of the project with the built package: .venv/bin/python tests/benches/curves_speed.py
Wall and processor time of the least of several runs; limits that are asked for stand beside.
"""

from __future__ import annotations

import random
import sys
import time
import warnings
from collections.abc import Callable
from typing import Any

import rootling as rl

STRENGTHS = [0, 500, 1000, 2000, 4000, 8000]
TAKES = {
    "K12": [0.15, 0.38, 0.55, 0.72, 0.62, 0.22],
    "K17": [0.20, 0.30, 0.45, 0.60, 0.66, 0.40],
    "K30": [0.10, 0.25, 0.50, 0.60, 0.45, 0.15],
}


def trays(days: tuple[int, ...] = (28,), each: int = 4) -> dict[str, list[Any]]:
    draw = random.Random(1)
    names = ("rootstock", "strength", "dark_days", "bench", "tray", "rooted", "stuck")
    rows: dict[str, list[Any]] = {name: [] for name in names}
    for rootstock, takes in TAKES.items():
        for day in days:
            for strength, take in zip(STRENGTHS, takes, strict=True):
                for at in range(each):
                    own = min(max(take + draw.gauss(0, 0.08), 0.01), 0.99)
                    rooted = sum(draw.random() < own for _ in range(20))
                    values = (rootstock, strength, day, at % 2, len(rows["tray"]), rooted, 20)
                    for name, value in zip(rows, values, strict=True):
                        rows[name].append(value)
    return rows


def measure(name: str, job: Callable[[], object], limit: str, runs: int = 3) -> None:
    best = (float("inf"), float("inf"))
    for _ in range(runs):
        wall, cpu = time.perf_counter(), time.process_time()
        job()
        best = min(best, (time.perf_counter() - wall, time.process_time() - cpu))
    print(f"{name:62} {1000 * best[0]:9.1f} ms wall {1000 * best[1]:9.1f} ms processor   {limit}")


def main() -> int:
    warnings.simplefilter("ignore")
    load = {"rooted": "rooted", "stuck": "stuck", "tray": "tray"}
    trial = rl.load_trial(trays(), treatments=["strength", "rootstock"], **load)
    one = trial.strength_curve(at={"rootstock": "K12"})
    measure(
        "all shapes, 3 rootstocks, 2,000 drawn trials each",
        lambda: trial.strength_curve(within="rootstock", bootstrap=2000),
        "limit 3000 ms",
        2,
    )
    measure("all shapes, 3 rootstocks", lambda: trial.strength_curve(within="rootstock"), "")
    measure("all shapes, 1 rootstock, all limits", lambda: trial.strength_curve(at={"rootstock": "K12"}), "")
    forced = {"at": {"rootstock": "K12"}, "shape": "rise-and-fall"}
    measure("one shape with its profile limits", lambda: trial.strength_curve(**forced), "limit 50 ms")
    measure("averaged strength_for with profile limits", lambda: one.strength_for(0.5), "limit 50 ms")
    measure("next trial of 24 trays", lambda: one.next_strengths(), "")
    for each in (4, 16):
        benches = rl.load_trial(trays(each=each), treatments=["strength", "rootstock"], block="bench", **load)
        under: dict[str, Any] = {"at": {"rootstock": "K12"}, "trays": "random"}
        curve = benches.strength_curve(**under)
        of = f"{6 * each} random trays in 2 benches"
        measure(f"all shapes, {of}", lambda t=benches, u=under: t.strength_curve(**u), "limit 1000 ms")
        measure(f"strength_for, {of}", lambda c=curve: c.strength_for(0.5), "")
        measure(f"next trial, {of}", lambda c=curve: c.next_strengths(), "")
    days = rl.load_trial(trays((14, 28, 42)), treatments=["strength", "rootstock", "dark_days"], **load)
    measure("surface over strength and darkness", lambda: days.response_surface(at={"rootstock": "K12"}), "")
    return 0


if __name__ == "__main__":
    sys.exit(main())
