"""Adjustments side by side with scipy in one run: .venv/bin/python tests/benches/adjustments_side_by_side.py

Runs `cargo bench --bench distributions` and times scipy (pip install scipy; another Python may be named as first
argument) on the same quantities. scipy's multivariate t is timed on one probability in 8 dimensions, and on one of
the 28 statistics of all pairs of eight means (7 free ones). Ours gives all 28 P values and the critical value, for
which scipy needs 28 such probabilities and a search. scipy
runs at its default number of points, and the spread of its answers stands beside that of ours over seeds.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
PEER = """
import json, time
import numpy as np
from scipy import stats

def least(job, runs):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        job()
        times.append(time.perf_counter() - start)
    return min(times)

def one(shape, runs):
    law = stats.multivariate_t(shape=shape, df=20, seed=1, allow_singular=True)
    ends, found = np.full(len(shape), 2.5), []
    taken = least(lambda: found.append(law.cdf(ends, lower_limit=-ends)), runs)
    return taken, float(np.std(found))

eight = np.full((8, 8), 0.5) + 0.5 * np.eye(8)
variances = np.array([0.01, 0.012, 0.02, 0.008, 0.01, 0.015, 0.03, 0.011])
pairs = [(i, j) for i in range(8) for j in range(i + 1, 8)]
weights = np.zeros((28, 8))
for row, (i, j) in enumerate(pairs):
    weights[row, [i, j]] = 1, -1
covariance = weights @ np.diag(variances) @ weights.T
spread = np.sqrt(np.diag(covariance))
taken, error = one(eight, 5)
pairs_taken, pairs_error = one(covariance / np.outer(spread, spread), 3)
print(json.dumps({
    "range": least(lambda: stats.studentized_range.ppf(0.95, 8, 20), 3),
    "eight": taken,
    "pairs": pairs_taken,
    "spread": [error, pairs_error],
}))
"""
PAIRS = "28 contrasts, unequal trays, joint distribution and critical value"
OWN: list[tuple[str, str | None, int | None]] = [
    ("studentised range quantile, 8 groups, 20 df", "range", 200),
    ("multivariate t rectangle, 8 dimensions, error 3e-4", "eight", None),
    ("28 contrasts, equal trays, joint distribution and critical value", "family", 10),
    (PAIRS, "family", 10),
    (PAIRS, "pairs", None),
    (PAIRS, "eight", None),
    ("everything of a 5 x 3 x 3 trial", None, None),
]
NAMES = {
    "range": "quantile",
    "eight": "one probability, 8 dimensions",
    "pairs": "one probability, 28 statistics",
    "family": "28 of those, one per P value",
}


def main() -> None:
    """Prints one line per quantity: our time, scipy's, the ratio and what is wanted."""
    # The folder of compiled code that all scripts share: polars is there already.
    sys.path.insert(0, str(TOP / "tests"))
    from _setup import target_folder

    target = target_folder()
    env = os.environ | {"CARGO_TARGET_DIR": str(target)}
    bench = ["cargo", "bench", "--locked", "--bench", "distributions", "--", "--quick"]
    subprocess.run(bench, cwd=TOP, check=True, env=env)
    peer_python = sys.argv[1] if len(sys.argv) > 1 else sys.executable
    told = subprocess.run([peer_python, "-c", PEER], check=True, capture_output=True, text=True)
    peer = json.loads(told.stdout)
    peer["family"] = 28 * peer["pairs"]
    print("scipy multivariate t, standard deviation over repeats: {:.1e} (8), {:.1e} (28)".format(*peer["spread"]))
    for name, what, wanted in OWN:
        folder = target / "criterion" / "adjustments" / name.replace("/", "_")
        estimates = sorted(folder.glob("**/new/estimates.json")) or sorted(
            (target / "criterion" / "adjustments").glob(f"{name[:40]}*/new/estimates.json")
        )
        own = json.loads(estimates[0].read_text())["mean"]["point_estimate"] / 1e9
        line = f"{name:<70} {1000 * own:9.3f} ms"
        if what is not None:
            line += f"   scipy, {NAMES[what]}: {1000 * peer[what]:9.2f} ms   {peer[what] / own:8.1f} x"
        print(line + ("" if wanted is None else f"   (want {wanted} x)"))


if __name__ == "__main__":
    main()
