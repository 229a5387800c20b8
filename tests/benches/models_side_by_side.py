"""Models beside what they rest on and beside peers: .venv/bin/python tests/benches/models_side_by_side.py [part ...]

Parts: mixed, cuttings, counts, rows, memory, penalised; all without a name. statsmodels is a peer where it can be
imported, lme4 and glmmTMB where Rscript has them (they take a minute); polars and numpy are always there. Jobs of one
part take turns in one run; the ratios count. README.md beside this file holds the limits.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import rootling as rl

CUTTINGS = 1_000_000
LEVELS = {"strength": 5, "dark_days": 4, "rootstock": 6, "nurse": 10}
STATUS, RESET = Path("/proc/self/status"), Path("/proc/self/clear_refs")
DATA = Path(__file__).parents[1] / "data"


def records(*, length: bool) -> pl.DataFrame:
    """Invented cuttings, one row each: four treatments, and a length that is different in each if wanted."""
    random = np.random.default_rng(1)
    codes = {name: random.integers(0, levels, CUTTINGS) for name, levels in LEVELS.items()}
    eta = -0.5 + 0.2 * codes["strength"] - 0.1 * codes["rootstock"] + 0.03 * codes["nurse"]
    columns: dict[str, Any] = {name: code * 10 for name, code in codes.items()}
    if length:
        columns["length"] = random.normal(15, 3, CUTTINGS)
        eta = eta + 0.05 * (columns["length"] - 15)
    columns["rooted"] = (random.random(CUTTINGS) < 1 / (1 + np.exp(-eta))).astype(np.int64)
    return pl.DataFrame(columns).rechunk()


def load(frame: pl.DataFrame, **options: Any) -> rl.Trial:
    return rl.load_trial(frame, rooted="rooted", treatments=list(LEVELS), **options)


def design(frame: pl.DataFrame, *, length: bool) -> np.ndarray:
    """The design written out."""
    columns = [np.ones(frame.height)]
    for name in LEVELS:
        column = frame[name].to_numpy()
        columns += [(column == level).astype(float) for level in np.unique(column)[1:]]
    if length:
        z = (frame["length"].to_numpy() - 15) / 10
        columns += [z, z**2]
    return np.column_stack(columns)


def best(jobs: dict[str, Callable[[], object]], rounds: int, each: int = 1) -> dict[str, float]:
    """The least time of each job in seconds; the jobs take turns, so that a busy moment falls on all of them.

    With one call ``each`` turn a short job finds the processor's caches full of the others' numbers; with several it
    does not, and nor do the others.
    """
    least = dict.fromkeys(jobs, float("inf"))
    for at in range(rounds + 1):
        for name, job in jobs.items():
            for _ in range(each):
                start = time.perf_counter()
                job()
                if at > 0:
                    least[name] = min(least[name], time.perf_counter() - start)
    return least


def once(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def statsmodels() -> Any:
    try:
        return import_module("statsmodels.api")
    except ImportError:
        return None


def show(name: str, seconds: float) -> None:
    print(f"  {name:<46} {1000 * seconds:10.2f} ms")


def ratio(name: str, value: float, limit: str) -> None:
    print(f"  -> {name:<43} {value:10.2f} x  (wanted: {limit})")


def cuttings() -> None:
    """A million cuttings with four factors: as much as the group-by."""
    print("10^6 cuttings, four factors (5 x 4 x 6 x 10)")
    frame = records(length=False)
    trial, effects = load(frame), list(LEVELS)
    jobs: dict[str, Callable[[], object]] = {
        "polars group-by": lambda: frame.group_by(effects).agg(pl.col("rooted").sum(), pl.len()),
        "load + model": lambda: load(frame).model(effects),
        "model of the loaded trial": lambda: trial.model(effects),
    }
    found = best(jobs, 7)
    for name, seconds in found.items():
        show(name, seconds)
    bare = found["polars group-by"]
    ratio("load + model / group-by", found["load + model"] / bare, "at most 1.3")
    if (sm := statsmodels()) is not None:
        x, y = design(frame, length=False), frame["rooted"].to_numpy()
        seconds = once(lambda: sm.GLM(y, x, sm.families.Binomial()).fit())
        show("statsmodels on the rows", seconds)
        ratio("statsmodels / (load + model)", seconds / found["load + model"], "at least 100")


def counts() -> None:
    """The same as counts."""
    print("1,200 counts, four factors")
    effects = list(LEVELS)
    grouped = records(length=False).group_by(effects, maintain_order=True).agg(pl.col("rooted").sum(), stuck=pl.len())
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": effects}
    trial = rl.load_trial(grouped, **roles)
    jobs: dict[str, Callable[[], object]] = {
        "model of the loaded trial": lambda: trial.model(effects),
        "load + model": lambda: rl.load_trial(grouped, **roles).model(effects),
    }
    if (sm := statsmodels()) is not None:
        x, y, m = design(grouped, length=False), grouped["rooted"].to_numpy(), grouped["stuck"].to_numpy()
        counted, law = np.column_stack([y, m - y]), sm.families.Binomial()
        jobs["statsmodels"] = lambda: sm.GLM(counted, x, law).fit()
        jobs["columns by numpy + statsmodels"] = lambda: sm.GLM(counted, design(grouped, length=False), law).fit()
    for each, when in ((10, "called again and again"), (1, "each call after another job")):
        found = best(jobs, 200 // each, each)
        print(f"  {when}:")
        for name, seconds in found.items():
            show(name, seconds)
        if "statsmodels" in found:
            ratio("statsmodels / model", found["statsmodels"] / found["model of the loaded trial"], "at least 30")
            both = found["columns by numpy + statsmodels"] / found["load + model"]
            ratio("both with what they need / load + model", both, "-")


def rows() -> None:
    """A million rows with a covariate that is different in each: 24 coefficients."""
    print("10^6 rows, four factors and a covariate with its square: 24 coefficients")
    frame = records(length=True)
    trial = load(frame, covariates="length")
    asked = {"effects": [*LEVELS, "length"], "polynomials": {"length": 2}}
    x, w = design(frame, length=True), np.full(frame.height, 0.2)
    steps = trial.model(**asked).numbers.convergence.iterations
    jobs: dict[str, Callable[[], object]] = {
        "weighted cross-product by numpy": lambda: (x * w[:, None]).T @ x,
        "model of the loaded trial": lambda: trial.model(**asked),
    }
    found = best(jobs, 5)
    for name, seconds in found.items():
        show(name, seconds)
    fit, bare = found["model of the loaded trial"], found["weighted cross-product by numpy"]
    print(f"  steps of the model: {steps}")
    ratio("model / (cross-product x steps)", fit / bare / steps, "at most 2")
    if (sm := statsmodels()) is not None:
        y = frame["rooted"].to_numpy()
        seconds = once(lambda: sm.GLM(y, x, sm.families.Binomial()).fit())
        show("statsmodels on the rows", seconds)
        ratio("statsmodels / model", seconds / fit, "at least 15")


def kilobytes(entry: str) -> int:
    """An entry of this process's memory record."""
    lines = STATUS.read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(entry))


def peak(path: str) -> None:
    """Prints how far the memory of this fresh process rises during the fit, beside the typed columns of the trial."""
    frame = pl.read_ipc(path)
    load(frame.gather_every(1000), covariates="length").model([*LEVELS, "length"])
    trial = load(frame, covariates="length")
    # Counts of 8 bytes, codes of 4, numbers of 8; and the design written out.
    columns = CUTTINGS * (2 * 8 + len(LEVELS) * 4 + 8) / 1024
    before = kilobytes("VmRSS")
    RESET.write_text("5", encoding="ascii")
    trial.model([*LEVELS, "length"], polynomials={"length": 2})
    grown = kilobytes("VmHWM") - before
    print(f"  typed columns {columns / 1024:.0f} MB, 24 columns written out {CUTTINGS * 24 * 8 / 2**20:.0f} MB")
    print(f"  memory during the fit, above the loaded trial {grown / 1024:.0f} MB")
    ratio("memory during the fit / typed columns", grown / columns, "at most 1.5")


def memory() -> None:
    """Memory of the fit of a million rows, in a fresh process."""
    print("memory of the fit of 10^6 rows")
    with tempfile.TemporaryDirectory() as folder:
        path = f"{folder}/rows.arrow"
        records(length=True).write_ipc(path)
        subprocess.run([sys.executable, __file__, "peak", path], check=True)


def penalised() -> None:
    """The endometrial set: 79 rows, separated."""
    print("endometrial set, penalised")
    frame = pl.read_csv(DATA / "heinze_schemper_2002.csv")
    trial = rl.load_trial(frame, rooted="HG", treatments=[], covariates=["NV", "PI", "EH"])
    found = best({"model of the loaded trial": lambda: trial.model(["NV", "PI", "EH"])}, 300)
    show("model of the loaded trial", found["model of the loaded trial"])
    ratio("0.4 ms / model (brglm2 0.9: 8 ms)", 4e-4 / found["model of the loaded trial"], "at least 1")


def trays(count: int, coefficients: int, bays: int = 0) -> pl.DataFrame:
    """Invented trays of 5 to 40 cuttings that differ beyond chance, and so do their bays if there are any."""
    random = np.random.default_rng(3)
    strength, bay = np.arange(count) % coefficients, np.arange(count) * bays // count
    eta = 0.7 * random.normal(size=coefficients)[strength] + 0.5 * random.normal(size=count) - 0.3
    if bays:
        eta = eta + 0.5 * random.normal(size=bays)[bay]
    stuck = random.integers(5, 41, count)
    rooted = random.binomial(stuck, 1 / (1 + np.exp(-eta)))
    return pl.DataFrame({"tray": np.arange(count), "bay": bay, "strength": strength, "rooted": rooted, "stuck": stuck})


def peer_seconds(job: str, frame: pl.DataFrame) -> tuple[float, float] | None:
    """Time and log-likelihood of one fit in R, where it is there."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = f"{folder}/trays.csv"
        frame.write_csv(path)
        script = str(Path(__file__).parent / "mixed_peers.R")
        done = subprocess.run(["Rscript", script, job, path], check=False, capture_output=True, text=True)
    if done.returncode != 0:
        return None
    seconds, loglik = done.stdout.split()
    return float(seconds), float(loglik)


def mixed() -> None:
    """Laws of the trays: fit with the profile limits of its standard deviations, beside a peer's fit without them."""
    jobs = [
        ("random intercept, 2,000 trays, 30 coefficients", "random", trays(2000, 30), "", "at least 100"),
        ("trays in bays (40 x 25), 20 coefficients", "nested", trays(1000, 20, 40), "bay", "at least 50"),
        ("beta-binomial, 2,000 trays, 30 coefficients", "beta", trays(2000, 30), "", "at least 20"),
        ("random intercept, 20,000 trays, 30 coefficients", "", trays(20_000, 30), "", ""),
        ("random intercept, rows x columns (45 x 45)", "", crossed(), "", ""),
    ]
    first = 0.0
    for name, peer, frame, plot, limit in jobs:
        roles = {"whole_plot": plot} if plot else {"covariates": [c for c in ("row", "column") if c in frame.columns]}
        trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray", **roles)
        random = roles.get("covariates", []) if "covariates" in roles else []
        law: Any = "beta-binomial" if peer == "beta" else "random"
        model = trial.model("strength", trays=law, random=random)
        seconds = best(
            {"model": lambda trial=trial, law=law, random=random: trial.model("strength", trays=law, random=random)}, 5
        )["model"]
        print(f"{name}: log-likelihood {model.numbers.loglik:.6f}")
        show("model of the loaded trial", seconds)
        found = peer_seconds(peer, frame) if peer else None
        if found is not None:
            print(f"  log-likelihood of the peer {found[1]:.6f}")
            show("peer", found[0])
            ratio("peer / model", found[0] / seconds, limit)
        if peer == "random":
            first = seconds
        if frame.height == 20_000:
            ratio("20,000 trays / 2,000 trays", seconds / first, "about 10")


def crossed() -> pl.DataFrame:
    """Every row crosses every column of an invented field of trays."""
    frame = trays(2025, 5)
    at = np.arange(frame.height)
    return frame.with_columns(pl.Series("row", at // 45), pl.Series("column", at % 45))


PARTS = {"mixed": mixed, "cuttings": cuttings, "counts": counts, "rows": rows, "memory": memory, "penalised": penalised}

if __name__ == "__main__":
    warnings.simplefilter("ignore")
    if "peak" in sys.argv:
        peak(sys.argv[-1])
    else:
        for part in sys.argv[1:] or PARTS:
            PARTS[part]()
