"""Strength and darkness together, by an independent optimiser: values/surface.json.

Run with scipy 1.x and statsmodels from the top of the project: python tests/reference/make/surface.py
Log odds are quadratic in log(1 + d/500) and in days, with their product; days are used as they are. Limits of
the best strength at a darkness are found by searches along the profile, with the slope of strength put in from the
condition. Nothing of rootling is imported.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy.optimize import brentq, minimize
from scipy.stats import chi2

OUT = Path(__file__).resolve().parent.parent / "values" / "surface.json"
STRENGTHS = [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0]
DAYS = [14.0, 28.0, 42.0]
ROOTED = [[9, 20, 29, 41, 47, 30], [14, 31, 45, 52, 46, 20], [12, 33, 44, 47, 31, 9]]
STUCK = 80.0


def main():
    d = np.array([s for _ in DAYS for s in STRENGTHS])
    w = np.array([day for day in DAYS for _ in STRENGTHS])
    y = np.array(ROOTED, float).ravel()
    counts = np.column_stack([y, STUCK - y])
    x = np.log1p(d / 500.0)

    def fit(columns):
        done = sm.GLM(counts, columns, family=sm.families.Binomial()).fit(tol=1e-14, maxiter=300)
        return done, -0.5 * done.deviance

    one = np.ones_like(x)
    full, top = fit(np.column_stack([one, x, x * x, w, w * w, x * w]))
    b = full.params
    parallel = fit(np.column_stack([one, x, x * x, w, w * w]))[1]
    # Deviance per degree of freedom, where it exceeds 1.
    missed = max(1.0, full.deviance / (len(x) - 6))
    most = chi2.ppf(0.95, 1) * missed
    best = []
    for day in DAYS:
        place = -(b[1] + b[5] * day) / (2 * b[2])

        def beyond(at, day=day):
            held = fit(np.column_stack([one, x * x - 2 * at * x, w, w * w, x * w - day * x]))[1]
            return 2 * (top - held) - most

        low = brentq(beyond, place - 0.9, place, xtol=1e-12)
        high = brentq(beyond, place, place + 0.9, xtol=1e-12)
        best.append([500.0 * float(np.expm1(at)) for at in (place, low, high)])
    x_span, days = x.max(), (w - 14.0) / 28.0
    region = []
    saturated = float((y * np.log(y / STUCK) + (STUCK - y) * np.log(1 - y / STUCK)).sum())
    for row in range(0, 33, 4):
        for column in range(0, 33, 4):
            x0, w0 = x_span * column / 32, row / 32
            off = np.column_stack([x - x0, days - w0])

            def value_of(th, off=off):
                # A top: the quadratic form is a sum of squares, never saddle-shaped.
                eta = th[0] - (th[1] * off[:, 0] + th[2] * off[:, 1]) ** 2 - (th[3] * off[:, 1]) ** 2
                return float((y * eta - STUCK * np.logaddexp(0, eta)).sum()) - saturated

            value = -np.inf
            for start in ([0.6, 1.0, 0.3, 0.3], [0.6, 1.0, -0.3, 0.3], [0.6, 1.0, 1.0, 1.0], [0.6, 1.0, 0.0, 0.0]):
                at = np.array(start)
                for _ in range(2):
                    done = minimize(lambda th, of=value_of: -of(th), at, method="BFGS", options={"gtol": 1e-9})
                    at = done.x
                value = max(value, -done.fun)
            if 2 * (top - value) <= chi2.ppf(0.95, 2) * missed:
                region.append([row, column])
    matrix = np.array([[2 * b[2], b[5]], [b[5], 2 * b[4]]])
    at = np.linalg.solve(matrix, [-b[1], -b[3]])
    text = {
        "made_by": f"tests/reference/make/surface.py, statsmodels {statsmodels.__version__}, scipy {scipy.__version__}",
        "strength": STRENGTHS,
        "days": DAYS,
        "rooted": ROOTED,
        "stuck": STUCK,
        "best": best,
        "parallel_ratio": 2 * (top - parallel),
        "lack_of_fit": float(full.deviance),
        "region_of_every_fourth_place": region,
        "top_strength": 500.0 * float(np.expm1(at[0])),
        "top_days": float(at[1]),
    }
    OUT.write_text(json.dumps(text, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
