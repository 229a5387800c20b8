"""Adjustments side by side with scipy in one run: .venv/bin/python tests/benches/adjustments_side_by_side.py

Runs `cargo bench --bench distributions` and times scipy (pip install scipy; another Python may be named as first
argument) on the same quantities. scipy's multivariate t is asked for the error that ours reaches (3e-4); its time is
that of one probability in 8 dimensions, ours that of all 28 P values and the critical value.
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

r = np.full((8, 8), 0.5) + 0.5 * np.eye(8)
law = stats.multivariate_t(shape=r, df=20, seed=1)
ends = np.full(8, 2.5)
found = []
cdf = lambda: found.append(law.cdf(ends, lower_limit=-ends, maxpts=8000))
taken = least(cdf, 5)
print(json.dumps({
    "range": least(lambda: stats.studentized_range.ppf(0.95, 8, 20), 3),
    "multivariate": taken,
    "spread": float(np.std(found)),
}))
"""
OWN = {
    "studentised range quantile, 8 groups, 20 dof": ("range", 200),
    "multivariate t rectangle, 8 dimensions, error 3e-4": ("multivariate", None),
    "28 contrasts, equal trays, joint distribution and critical value": ("multivariate", 10),
    "28 contrasts, unequal trays, joint distribution and critical value": ("multivariate", 10),
    "everything of a 5 x 3 x 3 trial": (None, None),
}


def main() -> None:
    """Prints one line per quantity: our time, scipy's, the ratio and what is wanted."""
    subprocess.run(["cargo", "bench", "--locked", "--bench", "distributions", "--", "--quick"], cwd=TOP, check=True)
    target = Path(os.environ.get("CARGO_TARGET_DIR", TOP / "target"))
    peer_python = sys.argv[1] if len(sys.argv) > 1 else sys.executable
    told = subprocess.run([peer_python, "-c", PEER], check=True, capture_output=True, text=True)
    peer = json.loads(told.stdout)
    print(f"scipy multivariate t, standard deviation over repeats: {peer['spread']:.1e}")
    for name, (what, wanted) in OWN.items():
        folder = target / "criterion" / "adjustments" / name.replace("/", "_")
        estimates = sorted(folder.glob("**/new/estimates.json")) or sorted(
            (target / "criterion" / "adjustments").glob(f"{name[:40]}*/new/estimates.json")
        )
        own = json.loads(estimates[0].read_text())["mean"]["point_estimate"] / 1e9
        line = f"{name:<70} {1000 * own:9.3f} ms"
        if what is not None:
            line += f"   scipy {1000 * peer[what]:9.2f} ms   {peer[what] / own:8.1f} x"
        print(line + ("" if wanted is None else f"   (want {wanted} x)"))


if __name__ == "__main__":
    main()
