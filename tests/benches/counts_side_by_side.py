"""Counts compared, side by side with general libraries in one run: .venv/bin/python
tests/benches/counts_side_by_side.py

The peers are optional (pip install scipy): a line whose peer is missing says so and is skipped. What counts is the
ratio.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable

import numpy as np
import rootling as rl

MANY = 1_000_000
ARM = [[74, 46], [51, 69]]


def best_time(job: Callable[[], object], runs: int) -> float:
    """Least time of a job in seconds, after one run to warm up."""
    job()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return min(times)


def line(name: str, own: float, peer_name: str, peer: float, wanted: str) -> None:
    """One comparison: both times and how many times faster this package is."""
    print(
        f"{name:<44} {1000 * own:9.2f} ms   {peer_name} {1000 * peer:9.2f} ms   {peer / own:6.1f} x   (want {wanted})"
    )


def many_counts(most: int) -> tuple[np.ndarray, np.ndarray]:
    """Invented counts of a million trays, the same every time."""
    random = np.random.default_rng(1)
    stuck = random.integers(5, most, MANY)
    return random.binomial(stuck, random.random(MANY)), stuck


def wilson(rooted: np.ndarray, stuck: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The formula in plain numpy."""
    z2 = 1.959963984540054**2
    rate = rooted / stuck
    centre = (rate + z2 / (2 * stuck)) / (1 + z2 / stuck)
    half = np.sqrt(z2 * (rate * (1 - rate) / stuck + z2 / (4 * stuck * stuck))) / (1 + z2 / stuck)
    return centre - half, centre + half


def intervals() -> None:
    """A million intervals at once."""
    rooted, stuck = many_counts(200)
    own = best_time(lambda: rl.rates.interval(rooted, stuck, method="wilson"), 5)
    line("10^6 Wilson intervals", own, "numpy", best_time(lambda: wilson(rooted, stuck), 5), ">= 0.5 x")
    try:
        from scipy import stats
    except ImportError:
        print("10^6 Clopper-Pearson intervals: scipy is not installed, skipped")
        return
    for most in (200, 100_000):
        rooted, stuck = many_counts(most)

        def both_ends(rooted: np.ndarray = rooted, stuck: np.ndarray = stuck) -> object:
            low = stats.beta.ppf(0.025, rooted, stuck - rooted + 1)
            return low, stats.beta.ppf(0.975, rooted + 1, stuck - rooted)

        def exact(rooted: np.ndarray = rooted, stuck: np.ndarray = stuck) -> object:
            return rl.rates.interval(rooted, stuck, method="clopper-pearson")

        with np.errstate(all="ignore"):
            peer = best_time(both_ends, 1)
        line(f"10^6 Clopper-Pearson, up to {most} a tray", best_time(exact, 2), "scipy", peer, ">= 6 x")


def exact_tests() -> None:
    """Unconditional tests on 120 per arm."""
    try:
        from scipy import stats
    except ImportError:
        print("Boschloo and Barnard: scipy is not installed, skipped")
        return
    columns = np.array(ARM).T
    jobs = {
        "Boschloo, 120 per arm": ("boschloo", lambda: stats.boschloo_exact(columns), ">= 30 x"),
        "Barnard, 120 per arm": ("barnard", lambda: stats.barnard_exact(columns), ">= 10 x"),
    }
    for name, (method, peer, wanted) in jobs.items():
        own = best_time(lambda method=method: rl.tables.unconditional(ARM, method=method), 20)
        line(name, own, "scipy", best_time(peer, 3), wanted)
    own = best_time(lambda: rl.tables.fisher(ARM), 50)
    line("Fisher, all definitions and limits", own, "scipy", best_time(lambda: stats.fisher_exact(columns), 20), "any")


def alone() -> None:
    """What has no peer here."""
    job = lambda: rl.compare.difference(74, 120, 51, 120, method="exact")  # noqa: E731
    print(f"{'Exact difference, 120 per arm':<44} {1000 * best_time(job, 3):9.2f} ms")


if __name__ == "__main__":
    print(f"{os.cpu_count()} processors")
    intervals()
    exact_tests()
    alone()
