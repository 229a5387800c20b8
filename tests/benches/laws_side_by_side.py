"""Laws of counts and grades beside general packages: .venv/bin/python tests/benches/laws_side_by_side.py

A hundred thousand counts, and as many grades, with a measured column and three groups. Prints the least times: the fit
alone in the core, the whole answer of ``rl.responses.count_law``, and those of pscl and ordinal where Rscript has them.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROWS = 100_000
HERE = Path(__file__).resolve().parent
LIMIT = 20


def tables(folder: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Invented counts and grades, the same every time."""
    random = np.random.default_rng(1)
    x, group = random.normal(size=ROWS), np.arange(ROWS) % 3
    mean = np.exp(1 + 0.3 * x + 0.2 * group)
    any_of = random.random(ROWS) < 1 / (1 + np.exp(-(0.5 + 0.4 * x + 0.5 * group)))
    counts = np.zeros(ROWS, dtype=int)
    left = any_of.copy()
    while left.any():
        drawn = random.poisson(random.gamma(2.0, mean[left] / 2.0))
        counts[left] = drawn
        left[np.flatnonzero(left)[drawn > 0]] = False
    hidden = 0.7 * x + 0.45 * group + random.logistic(size=ROWS)
    grades = np.digitize(hidden, [-1, 0, 1, 2]) + 1
    for name, values in {"counts": counts, "grades": grades}.items():
        lines = [f"{value},{measured!r},{one}" for value, measured, one in zip(values, x.tolist(), group, strict=True)]
        (folder / f"{name}.csv").write_text("\n".join(["count,x,group", *lines]) + "\n")
    return counts, x, group


def least(work: Callable[[], object]) -> float:
    """The least time of some rounds, in milliseconds."""
    times = []
    for _ in range(5):
        start = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - start))
    return min(times)


def printed(command: list[str]) -> dict[str, tuple[float, float]]:
    """Lines "name milliseconds likelihood" of a program."""
    found = subprocess.run(command, capture_output=True, text=True, check=False, cwd=HERE.parents[1])
    lines = [line.split() for line in found.stdout.splitlines()]
    return {line[0]: (float(line[1]), float(line[2])) for line in lines if len(line) == 3}


def main() -> None:
    """Measures and prints."""
    import rootling as rl

    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        counts, x, group = tables(folder)
        peers = printed(["Rscript", str(HERE / "laws_peers.R"), made]) if shutil.which("Rscript") else {}
        bench = ["cargo", "bench", "--locked", "--no-default-features", "--bench", "laws", "--", made]
        core = printed(bench) if "CARGO_TARGET_DIR" in os.environ else {}
        whole = {
            "hurdle": least(lambda: rl.responses.count_law(counts, group, columns={"x": x})),
            "groups": least(lambda: rl.responses.count_law(counts, group)),
        }
    for name, (time_of, height) in peers.items():
        print(f"{name}: general package {time_of:.0f} ms, likelihood {height:.4f}")
    for kind, found in {"fit": {name: one[0] for name, one in core.items()}, "whole answer": whole}.items():
        for name, time_of in found.items():
            beside = peers.get(name)
            times = f", {beside[0] / time_of:.0f} x faster (limit {LIMIT})" if beside else ""
            print(f"{name}, {kind}: {time_of:.1f} ms{times}")
    for name, (_, height) in core.items():
        print(f"{name}: likelihood {height:.4f}")


if __name__ == "__main__":
    main()
