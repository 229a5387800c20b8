"""Counts compared, side by side with general libraries in one run, against the limits this package sets itself.

Run: .venv/bin/python tests/benches/counts_side_by_side.py [intervals] [exact] [tables] [randomisation]

The peers are optional: scipy (pip install scipy) and R (Rscript on the path). A line whose peer is missing says so and
is skipped. What counts is the ratio: the jobs of a line take turns, and the least time of each counts. The last line
says how many limits were missed; it is also the exit status.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import rootling as rl

MANY = 1_000_000
ARM = [[74, 46], [51, 69]]
LARGE = [[8, 15, 11, 6, 8], [12, 6, 7, 9, 12], [5, 14, 10, 13, 7], [9, 3, 4, 5, 10]]
R_WITHIN = 20.0
TRAYS, DRAWS = 24, 100_000

missed: list[str] = []


def in_turns(jobs: list[Callable[[], object]], runs: int) -> list[float]:
    """Least time of each job in seconds, after one run of each to warm up."""
    least = [float("inf")] * len(jobs)
    for turn in range(runs + 1):
        for at, job in enumerate(jobs):
            start = time.perf_counter()
            job()
            took = time.perf_counter() - start
            least[at] = min(least[at], took) if turn else least[at]
    return least


def say(name: str, text: str, held: bool) -> None:
    """One line with its verdict."""
    if not held:
        missed.append(name)
    print(f"{'holds ' if held else 'MISSED'}  {name:<52} {text}", flush=True)


def beside(
    name: str, own: Callable[[], object], peer_name: str, peer: Callable[[], object], ratio: float, runs: int
) -> None:
    """Both times, and how many times faster this package is."""
    mine, theirs = in_turns([own, peer], runs)
    text = f"{1000 * mine:9.2f} ms   {peer_name} {1000 * theirs:9.2f} ms   {theirs / mine:6.1f} x   (limit {ratio:g} x)"
    say(name, text, theirs >= ratio * mine)


def scipy_stats() -> Any:
    """scipy.stats, or None where it is not installed."""
    try:
        from scipy import stats
    except ImportError:
        print("scipy is not installed: its lines are skipped")
        return None
    return stats


def many_counts(most: int) -> tuple[np.ndarray, np.ndarray]:
    """Invented counts of a million trays, the same every time."""
    random = np.random.default_rng(1)
    stuck = random.integers(5, most, MANY)
    return random.binomial(stuck, random.random(MANY)), stuck


def wilson(rooted: np.ndarray, stuck: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The formula in plain numpy, which goes through memory once for each of its steps."""
    z2 = 1.959963984540054**2
    rate = rooted / stuck
    centre = (rate + z2 / (2 * stuck)) / (1 + z2 / stuck)
    half = np.sqrt(z2 * (rate * (1 - rate) / stuck + z2 / (4 * stuck * stuck))) / (1 + z2 / stuck)
    return rate, centre - half, centre + half


def intervals() -> None:
    """A million intervals at once."""
    rooted, stuck = many_counts(200)
    beside(
        "10^6 Wilson intervals",
        lambda: rl.rates.interval(rooted, stuck, method="wilson"),
        "numpy",
        lambda: wilson(rooted, stuck),
        0.5,
        7,
    )
    stats = scipy_stats()
    for most in (200, 2_000, 100_000) if stats else ():
        rooted, stuck = many_counts(most)

        def both_ends(rooted: np.ndarray = rooted, stuck: np.ndarray = stuck) -> object:
            low = stats.beta.ppf(0.025, rooted, stuck - rooted + 1)
            return low, stats.beta.ppf(0.975, rooted + 1, stuck - rooted)

        def special(rooted: np.ndarray = rooted, stuck: np.ndarray = stuck) -> object:
            from scipy.special import betaincinv

            return betaincinv(rooted, stuck - rooted + 1, 0.025), betaincinv(rooted + 1, stuck - rooted, 0.975)

        def exact(rooted: np.ndarray = rooted, stuck: np.ndarray = stuck) -> object:
            return rl.rates.interval(rooted, stuck, method="clopper-pearson")

        with np.errstate(all="ignore"):
            for name, peer in (("scipy.stats", both_ends), ("scipy.special", special)):
                beside(f"10^6 Clopper-Pearson, 5 to {most - 1} a tray", exact, name, peer, 6.0, 2)


def exact_tests() -> None:
    """Exact tests of two rates on 120 per arm."""
    stats = scipy_stats()
    if stats:
        columns = np.array(ARM).T
        for name, method, peer, ratio in (
            ("Boschloo, 120 per arm", "boschloo", lambda: stats.boschloo_exact(columns), 30.0),
            ("Barnard, 120 per arm", "barnard", lambda: stats.barnard_exact(columns), 10.0),
        ):
            own = lambda method=method: rl.tables.unconditional(ARM, method=method)  # noqa: E731
            beside(name, own, "scipy", peer, ratio, 10)
        beside(
            "Fisher, all definitions and limits",
            lambda: rl.tables.fisher(ARM),
            "scipy",
            lambda: stats.fisher_exact(columns),
            0,
            20,
        )
    (took,) = in_turns([lambda: rl.compare.difference(74, 120, 51, 120, method="exact")], 2)
    say("exact difference, 120 per arm", f"{1000 * took:9.2f} ms", True)


def generated(strength: float, tables: int, shares: tuple[float, ...] = (0.2,) * 5) -> list[list[list[int]]]:
    """Tables of 5 x 5 with 100 plants; ``strength`` puts more of them on the diagonal, ``shares`` are the margins."""
    random = np.random.default_rng(7)
    weights = np.outer(shares, shares) * (1.0 + strength * np.eye(5))
    chance = (weights / weights.sum()).ravel()
    drawn = (random.multinomial(100, chance).reshape(5, 5) for _ in range(100 * tables))
    full = [table.tolist() for table in drawn if table.sum(axis=0).all() and table.sum(axis=1).all()]
    return full[:tables]


def fives() -> dict[str, list[list[list[int]]]]:
    """Tables of 5 x 5 with 100 plants: margins equal, near equal, uneven; near independence to a perfect diagonal."""

    def even(on: int, off: int) -> list[list[int]]:
        return [[on if row == column else off for column in range(5)] for row in range(5)]

    found = {
        f"margins 20, diagonal {on} / {off}": [even(on, off)] for on, off in ((4, 4), (8, 3), (12, 2), (16, 1), (20, 0))
    }
    for strength in (0.0, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 15.0, 40.0):
        found[f"margins near 20, diagonal {strength:g}"] = generated(strength, 8)
    for name, shares in (("uneven", (0.4, 0.25, 0.17, 0.11, 0.07)), ("very uneven", (0.6, 0.2, 0.1, 0.06, 0.04))):
        for strength in (0.0, 1.0, 3.0, 8.0, 40.0):
            found[f"margins {name}, diagonal {strength:g}"] = generated(strength, 4, shares)
    return found


def of_r(table: list[list[int]]) -> str:
    """R's time and P, or that it took longer than allowed or refused."""
    if shutil.which("Rscript") is None:
        return "R is not here"
    counts = ",".join(str(count) for row in table for count in row)
    code = (
        f"m <- matrix(c({counts}), nrow = {len(table)}, byrow = TRUE); "
        "t <- system.time(p <- fisher.test(m, workspace = 2e8)$p.value)[3]; cat(sprintf('%.2f s, P = %.8g', t, p))"
    )
    try:
        done = subprocess.run(["Rscript", "-e", code], capture_output=True, text=True, timeout=R_WITHIN, check=False)
    except subprocess.TimeoutExpired:
        return f"R: more than {R_WITHIN:.0f} s"
    return f"R: {done.stdout}" if done.returncode == 0 else f"R refuses: {done.stderr.strip().splitlines()[-1][:80]}"


def timed(table: list[list[int]]) -> tuple[float, float, str]:
    """Seconds, P and how it was reached."""
    start = time.perf_counter()
    found = rl.tables.freeman_halton(table)
    return time.perf_counter() - start, found.p, found.method


def tables() -> None:
    """The exact test of r x c tables."""
    seconds, p, method = timed(LARGE)
    held = seconds < 3 and method == "exact" and abs(p / 0.07702423 - 1) < 1e-7
    say("exact 4 x 5, n = 174", f"{seconds:.2f} s, P = {p:.8g}, {method} (limit 3 s); {of_r(LARGE)}", held)
    for name, some in fives().items():
        runs = [timed(table) for table in some]
        longest = max(run[0] for run in runs)
        ways = {run[2] for run in runs}
        least, most = min(run[1] for run in runs), max(run[1] for run in runs)
        text = f"longest of {len(runs)} {longest:.2f} s, P {least:.2g} to {most:.2g}"
        say(f"exact 5 x 5, n = 100, {name}", f"{text} (limit 1 s); {of_r(some[0])}", longest < 1 and ways == {"exact"})
    import resource

    held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"       most memory held so far, this script and its libraries included: {held:.0f} MB")


def randomisation() -> None:
    """24 and 24 invented trays, 100,000 random assignments; scipy is given its fastest way, a vectorised statistic."""
    stats = scipy_stats()
    if not stats:
        return
    random = np.random.default_rng(1)
    first, second = random.binomial(20, 0.40, TRAYS) / 20, random.binomial(20, 0.55, TRAYS) / 20

    def gap(a: np.ndarray, b: np.ndarray, axis: int) -> np.ndarray:
        return a.mean(axis) - b.mean(axis)

    def theirs() -> object:
        return stats.permutation_test((first, second), gap, vectorized=True, n_resamples=DRAWS, rng=random)

    def ours() -> object:
        return rl.compare.randomisation(first, second, draws=DRAWS)

    beside("10^5 assignments of 24 + 24 trays, with interval", ours, "scipy, test alone", theirs, 15.0, 7)


def main() -> int:
    """The parts that were named, or all of them."""
    parts = {"intervals": intervals, "exact": exact_tests, "tables": tables, "randomisation": randomisation}
    print(f"{os.cpu_count()} processors")
    for name in sys.argv[1:] or parts:
        parts[name]()
    print(f"{len(missed)} limits missed" + "".join(f"; {name}" for name in missed))
    return len(missed)


if __name__ == "__main__":
    sys.exit(main())
