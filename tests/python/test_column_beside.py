"""A column that varies between trays beside the treatments: one fit of all trays, by a second route."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
import rootling as rl


def sheet(seed: int, workers: int) -> dict[str, list[Any]]:
    """Three strengths in six benches under two lengths of darkness, trays of 20, stuck by whoever came."""
    draw = np.random.default_rng(seed)
    rows = [(s, d, b) for b in range(6) for d in (0, 21) for s in (0, 1000, 2000)]
    takes = [0.4 + 0.1 * (s == 1000) + 0.05 * (d == 21) for s, d, _ in rows]
    return {
        "strength": [s for s, _, _ in rows],
        "dark_days": [d for _, d, _ in rows],
        "bench": [f"b{b}" for _, _, b in rows],
        "worker": [f"w{w}" for w in draw.integers(workers, size=len(rows))],
        "tray": list(range(len(rows))),
        "stuck": [20] * len(rows),
        "rooted": [int(draw.binomial(20, take)) for take in takes],
    }


def load(data: dict[str, list[Any]], *treatments: str) -> rl.Trial:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        names = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
        return rl.load_trial(data, treatments=list(treatments), **names)


def fitted(data: dict[str, list[Any]], first: int, second: int) -> float:
    """The difference of two strengths by least squares (numpy) on the tray rates, all else side by side."""
    columns = [
        [float(value == level) for value in data[name]]
        for name in ("strength", "dark_days", "bench", "worker")
        for level in sorted(set(data[name]))
    ]
    rates = np.array(data["rooted"]) / np.array(data["stuck"])
    found = np.linalg.lstsq(np.array(columns).T, rates, rcond=None)[0]
    levels = sorted(set(data["strength"]))
    return float(found[levels.index(second)] - found[levels.index(first)])


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("workers", [6, 9])
def test_a_comparison_is_that_of_least_squares(seed: int, workers: int) -> None:
    data = sheet(seed, workers)
    found = load(data, "strength", "dark_days", "worker").compare("strength", 0, 1000)
    assert found.adjusted_for == ("dark_days", "worker", "bench")
    assert found.value == pytest.approx(fitted(data, 0, 1000), rel=1e-10)


@pytest.mark.parametrize("seed", range(6))
def test_a_column_beside_hardly_widens_the_interval(seed: int) -> None:
    data = sheet(seed, 6)
    beside, without = (
        load(data, *names).compare("strength", 0, 1000)
        for names in (("strength", "dark_days", "worker"), ("strength", "dark_days"))
    )
    # On average 1.0 to 1.3 (tests/calibration/beside.md), and single trials scatter; strata of single trays gave 2.
    assert beside.high - beside.low < 1.6 * (without.high - without.low)
