"""A randomisation test beside scipy's: .venv/bin/python tests/benches/randomisation_side_by_side.py

24 and 24 invented trays, 100,000 random assignments, two-sided, difference of means. scipy is given its fastest way
(a vectorised statistic). Prints the median of several runs of each and their ratio, which should be 15 or more.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

TRAYS = 24
DRAWS = 100_000
RUNS = 7


def median_time(job: Callable[[], object]) -> float:
    """Median time of a job in seconds, after one run to warm up."""
    job()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Both, one after the other."""
    import rootling as rl
    from scipy import stats

    random = np.random.default_rng(1)
    first, second = random.binomial(20, 0.40, TRAYS) / 20, random.binomial(20, 0.55, TRAYS) / 20

    def ours() -> float:
        return float(rl.compare.randomisation(first, second, draws=DRAWS).p_value)

    def scipys() -> float:
        def statistic(a: np.ndarray, b: np.ndarray, axis: int) -> np.ndarray:
            return a.mean(axis) - b.mean(axis)

        found = stats.permutation_test((first, second), statistic, vectorized=True, n_resamples=DRAWS, rng=random)
        return float(found.pvalue)

    mine, theirs = median_time(ours), median_time(scipys)
    print(f"rootling, test and interval {1000 * mine:7.1f} ms   P = {ours():.5f}")
    print(f"scipy, test alone           {1000 * theirs:7.1f} ms   P = {scipys():.5f}")
    print(f"ratio {theirs / mine:.1f}")


if __name__ == "__main__":
    main()
