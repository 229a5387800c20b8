"""Exact r x c tests beside a peer: .venv/bin/python tests/benches/tables_side_by_side.py

Prints the time of the 4 x 5 table (n = 174) and of generated 5 x 5 tables (n = 100), and, with Rscript on the path, R's
fisher.test on the same tables, with its time limit in seconds as an argument (default 20). README.md beside this file
holds the limits.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import time

import numpy as np
import rootling as rl

LARGE = [[8, 15, 11, 6, 8], [12, 6, 7, 9, 12], [5, 14, 10, 13, 7], [9, 3, 4, 5, 10]]
WITHIN = 20.0


def generated(strength: float, tables: int) -> list[list[list[int]]]:
    """Tables of 5 x 5 with 100 plants; ``strength`` puts more of them on the diagonal."""
    random = np.random.default_rng(7)
    weights = 1.0 + strength * np.eye(5)
    chance = (weights / weights.sum()).ravel()
    return [random.multinomial(100, chance).reshape(5, 5).tolist() for _ in range(tables)]


def timed(table: list[list[int]]) -> tuple[float, float, str]:
    """Seconds, P and how it was reached."""
    start = time.perf_counter()
    found = rl.tables.freeman_halton(table)
    return time.perf_counter() - start, found.p_value, found.method


def of_r(table: list[list[int]], within: float) -> str:
    """The peer's time and P, or that it took longer than allowed or refused."""
    if shutil.which("Rscript") is None:
        return "R is not here"
    counts = ",".join(str(count) for row in table for count in row)
    code = (
        f"m <- matrix(c({counts}), nrow = {len(table)}, byrow = TRUE); "
        "t <- system.time(p <- fisher.test(m, workspace = 2e8)$p.value)[3]; cat(sprintf('%.2f s, P = %.8g', t, p))"
    )
    try:
        done = subprocess.run(["Rscript", "-e", code], capture_output=True, text=True, timeout=within, check=False)
    except subprocess.TimeoutExpired:
        return f"R: more than {within:.0f} s"
    return f"R: {done.stdout}" if done.returncode == 0 else f"R refuses: {done.stderr.strip().splitlines()[-1][:80]}"


def main() -> None:
    """Prints one line for each table or group of tables."""
    within = float(sys.argv[1]) if len(sys.argv) > 1 else WITHIN
    seconds, p, method = timed(LARGE)
    print(f"4 x 5, n = 174: {seconds:.2f} s, P = {p:.8g}, {method}; {of_r(LARGE, within)}")
    for strength in (0.0, 1.0, 3.0, 8.0):
        tables = generated(strength, 5)
        runs = [timed(table) for table in tables]
        times = [run[0] for run in runs]
        ways = ", ".join(sorted({run[2] for run in runs}))
        print(
            f"5 x 5, n = 100, diagonal {strength:g}: median {statistics.median(times):.2f} s, "
            f"longest {max(times):.2f} s, P {min(run[1] for run in runs):.2g} to {max(run[1] for run in runs):.2g}, "
            f"{ways}; {of_r(tables[0], within)}"
        )


if __name__ == "__main__":
    main()
