"""How often limits of laws of plain counts hold: python tests/calibration/count_laws.py [trials]

Two groups of so many cuttings, counts drawn from a hurdle law; the first group is looked at. Prints the table of
``count_laws.md``.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import product
from typing import Any

import numpy as np
import rootling as rl

OTHER = (0.7, 3.0)


def drawn(random: np.random.Generator, cuttings: int, share: float, mean: float, spread: float) -> np.ndarray:
    """Counts: any or none, and how many of those that have any."""
    counts = np.zeros(cuttings, dtype=int)
    left = random.random(cuttings) < share
    while left.any():
        means = mean * random.gamma(1 / spread, spread, left.sum()) if spread else np.full(left.sum(), mean)
        found = random.poisson(means)
        counts[left] = found
        left[np.flatnonzero(left)[found > 0]] = False
    return counts


def truth(share: float, mean: float, spread: float) -> tuple[float, float, float]:
    """Share that has any, mean of those, mean of all."""
    none = (1 + spread * mean) ** (-1 / spread) if spread else np.exp(-mean)
    return share, mean / (1 - none), share * mean / (1 - none)


def holds(low: float | None, value: float, high: float | None) -> bool:
    """Limits that hold; one that is open holds."""
    return (low is None or low <= value) and (high is None or value <= high)


def lines(trials: int) -> Iterator[tuple[Any, ...]]:
    """Each design with the shares, in percent, of limits that held, and of trials without a fit."""
    random = np.random.default_rng(1)
    for cuttings, share, mean, spread in product((12, 30, 100), (0.3, 0.9), (1.0, 5.0), (0.0, 0.5)):
        want, hits, fitted, refused = truth(share, mean, spread), np.zeros(3), 0, 0
        for _ in range(trials):
            parts = [drawn(random, cuttings, *one, spread) for one in ((share, mean), OTHER)]
            try:
                found = rl.responses.count_law(np.concatenate(parts), np.repeat([0, 1], cuttings))
            except rl.RootlingError:
                refused += 1
                continue
            one, fitted = found.groups[0], fitted + 1
            ends = ((one.any_low, one.any_high), (one.of_any_low, one.of_any_high), (one.low, one.high))
            hits += [holds(low, value, high) for (low, high), value in zip(ends, want, strict=True)]
        yield cuttings, share, mean, spread, *(100 * hits / fitted).round(1), round(100 * refused / trials, 1)


def main() -> None:
    """Prints the table."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    print("| cuttings | share with any | mean of the law | spread | share | mean of those | mean of all | no fit |")
    print("|---|---|---|---|---|---|---|---|")
    for line in lines(trials):
        print(f"| {' | '.join(map(str, line))} |")


if __name__ == "__main__":
    main()
