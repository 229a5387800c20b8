"""A column that varies between trays beside the treatments: one fit of all trays, by a second route."""

from __future__ import annotations

import math
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl
from scipy import optimize, special


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


def weights(data: dict[str, list[Any]], first: int, second: int) -> np.ndarray[Any, Any]:
    """What each tray's rate counts for in that difference (numpy)."""
    names = ("strength", "dark_days", "bench", "worker")
    columns = [[float(value == level) for value in data[name]] for name in names for level in sorted(set(data[name]))]
    levels = sorted(set(data["strength"]))
    pull: np.ndarray[Any, Any] = np.linalg.pinv(np.array(columns).T)
    return pull[levels.index(second)] - pull[levels.index(first)]


@pytest.mark.parametrize("seed", range(6))
def test_units_that_carry_a_fit_are_those_it_draws_on(seed: int) -> None:
    data = sheet(seed, 24)
    found = load(data, "strength", "dark_days", "worker").compare("strength", 0, 1000)
    drawn = np.abs(weights(data, 0, 1000)) > 1e-9
    carried = found.to_dict()["carried"]
    for level in carried["levels"]:
        own = np.array(data["strength"]) == int(level["level"])
        assert (level["n_units"], level["n_units_used"]) == (own.sum(), (own & drawn).sum())
    assert any(level["n_units_used"] < level["n_units"] for level in carried["levels"]), "all trays carry it"
    assert "tell of dark_days, worker and bench alone" in found.details[1]


def confined() -> dict[str, list[Any]]:
    """The last bench was stuck by somebody who stuck no other."""
    data = sheet(3, 3)
    data["worker"] = [
        "w9" if bench == "b5" else worker for bench, worker in zip(data["bench"], data["worker"], strict=True)
    ]
    return data


def test_a_worker_of_one_bench_hides_no_strength() -> None:
    """Averages over what the trial tells of, by a second route: likelihood by scipy, rates averaged by hand."""
    data = confined()
    names = ("strength", "dark_days", "bench", "worker")
    columns = {(name, level): np.array(data[name]) == level for name in names for level in sorted(set(data[name]))}
    design = np.array(list(columns.values()), dtype=float).T
    rooted, stuck = np.array(data["rooted"]), np.array(data["stuck"])

    def off(coefficients: np.ndarray[Any, Any]) -> tuple[float, np.ndarray[Any, Any]]:
        line = design @ coefficients
        # A trace of a ridge picks one of the equal answers; what can be estimated does not depend on it.
        value = -(rooted * line - stuck * np.logaddexp(0, line)).sum() + 0.5e-9 * (coefficients**2).sum()
        return value, -design.T @ (rooted - stuck * special.expit(line)) + 1e-9 * coefficients

    found = optimize.minimize(off, np.zeros(design.shape[1]), jac=True, method="BFGS", options={"gtol": 1e-10}).x
    line = dict(zip(columns, found, strict=True))
    told = [(b, w) for b in range(5) for w in ("w0", "w1", "w2")] + [(5, "w9")]
    rates = {
        strength: np.mean(
            [
                special.expit(
                    line["strength", strength] + line["dark_days", d] + line["bench", f"b{b}"] + line["worker", w]
                )
                for d in (0, 21)
                for b, w in told
            ]
        )
        for strength in (0, 1000, 2000)
    }
    model = load(data, "strength", "dark_days", "worker").model(["strength", "dark_days", "worker"])
    contrasts = model.contrasts("strength", against=0, together="none")
    for row, strength in zip(contrasts.table().to_dicts(), (1000, 2000), strict=True):
        assert row["value"] == pytest.approx(rates[strength] - rates[0], rel=1e-5)
        assert row["p"] is not None
    for row, strength in zip(model.adjusted_rates("strength").table().to_dicts(), (0, 1000, 2000), strict=True):
        assert row["value"] == pytest.approx(rates[strength], rel=1e-5)
    said = {note.code: note.text for note in contrasts.notes}
    assert "the 16 of 24 combinations of bench and worker of which this trial tells" in said["averaged_where_told"]
    # The other workers meet in five benches and are set beside each other there; the last has no rate of his own.
    own = {row["worker"]: row["value"] for row in model.adjusted_rates("worker").table().to_dicts()}
    assert own.pop("w9") is None
    for worker, value in own.items():
        cells = [(s, d, b) for s in (0, 1000, 2000) for d in (0, 21) for b in range(5)]
        lines = [line["strength", s] + line["dark_days", d] + line["bench", f"b{b}"] for s, d, b in cells]
        assert value == pytest.approx(np.mean(special.expit(np.array(lines) + line["worker", worker])), rel=1e-5)


# tests/data/dark_bays_workers_invented.csv; R 4.2.2, lme4 1.1.31, lmerTest 3.1.3, pbkrtest 0.5.2:
# lmer(rooted / stuck ~ dark_days + strength + worker + (1 | bay)), Kenward-Roger: P and degrees of freedom of darkness.
KENWARD_ROGER = {1: (0.0490233653971267, 5.8891792147441), 2: (0.10285872143027237, 5.99431537562231)}


@pytest.mark.parametrize("number", KENWARD_ROGER)
def test_darkness_of_whole_bays_beside_a_worker_is_judged_as_in_a_model(number: int) -> None:
    frame = pl.read_csv(Path(__file__).parents[1] / "data" / "dark_bays_workers_invented.csv")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        trial = rl.load_trial(
            frame.filter(pl.col("trial") == number),
            rooted="rooted",
            stuck="stuck",
            treatments=["dark_days", "strength", "worker"],
            tray="tray",
            whole_plot="bay",
        )
    p, df = KENWARD_ROGER[number]
    found = trial.compare("dark_days", 0, 21)
    fitted = trial.model(["dark_days", "strength", "worker"]).contrasts("dark_days")
    # Rates weigh by their effective cuttings here and alike there.
    for own, own_df in ((found.p, found.numbers.df), (fitted.contrasts[0].p, fitted.contrasts[0].df)):
        assert abs(math.log(own / p)) < 0.15
        assert own_df == pytest.approx(df, rel=0.02)
    assert trial.association("dark_days").p == pytest.approx(found.p, rel=1e-12)
