"""Strength curves under laws of the trays and with blocks, by an independent optimiser: values/curve_laws.json.

Run with scipy 1.x and statsmodels from the top of the project: python tests/reference/make/curve_laws.py
Beta-binomial densities come from log-beta functions; random effects are integrated by equal steps over the whole
normal density, not by a Gauss rule. Every likelihood is maximised over the whole box of a shape by many starts. Nothing
of rootling is imported.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy.optimize import brentq, minimize
from scipy.special import betaln, expit, gammaln, logit
from scipy.stats import chi2, t

from curves import Axis, binomial_fit, profile_limits

HERE = Path(__file__).resolve().parent
DATA = HERE.parent.parent / "data"
OUT = HERE.parent / "values" / "curve_laws.json"
STEPS = np.linspace(-9.0, 9.0, 181)
WEIGHTS = np.exp(-0.5 * STEPS**2)
WEIGHTS /= WEIGHTS.sum()


def crowder():
    """Crowder 1978, germination on 16 plates at three dilutions of an extract, as strengths 1/625, 1/25 and 1."""
    with (DATA / "crowder_dilution.csv").open() as file:
        rows = list(csv.DictReader(file))
    parts = [row["dilution"].split("/") for row in rows]
    d = [float(a) / float(b) for a, b in parts]
    return d, [int(row["germinated"]) for row in rows], [int(row["n"]) for row in rows]


def drawn():
    """Invented: seven strengths x six trays of 18 to 22 cuttings in six blocks, a hump, correlation within trays."""
    rng = np.random.default_rng(20261127)
    takes = {0: 0.16, 250: 0.30, 500: 0.42, 1000: 0.58, 2000: 0.70, 4000: 0.58, 8000: 0.24}
    shifts = rng.normal(0, 0.5, 6)
    rows = []
    for strength, take in takes.items():
        for block in range(6):
            p = expit(logit(take) + shifts[block])
            n = int(rng.integers(18, 23))
            y = int(rng.binomial(n, rng.beta(p * 9, (1 - p) * 9)))
            rows.append((float(strength), y, n, block))
    return [list(column) for column in zip(*rows, strict=True)]


class Curve:
    """All trays of one curve under a law; points are in the box of the shape with the spread behind."""

    def __init__(self, d, y, n, law):
        self.strengths = sorted(set(d))
        self.axis = Axis(self.strengths)
        self.at = np.array([self.strengths.index(x) for x in d])
        self.y, self.n, self.law = np.array(y), np.array(n), law
        self.choose = gammaln(self.n + 1) - gammaln(self.y + 1) - gammaln(self.n - self.y + 1)

    def box(self, shape):
        one = {"flat": [(0.0, 1.0)], "straight": [(-25.0, 25.0)] * 2}
        return [
            *(one[shape] if shape in one else self.axis.box(shape)),
            (0.0, 0.9 if self.law == "beta-binomial" else 6.0),
        ]

    def rates(self, shape, theta):
        if shape == "flat":
            return np.full(len(self.strengths), theta[0])
        if shape == "straight":
            return expit((1 - self.axis.t) * theta[0] + self.axis.t * theta[1])
        return self.axis.rates(shape, np.asarray(theta))

    def trays(self, p, spread):
        """Log-density of every tray at its rate."""
        p = np.clip(p, 1e-13, 1 - 1e-13)
        if self.law == "beta-binomial":
            if spread < 1e-7:
                return self.choose + self.y * np.log(p) + (self.n - self.y) * np.log1p(-p)
            a, b = p * (1 - spread) / spread, (1 - p) * (1 - spread) / spread
            return self.choose + betaln(self.y + a, self.n - self.y + b) - betaln(a, b)
        q = expit(logit(p)[:, None] + spread * STEPS)
        q = np.clip(q, 1e-300, 1 - 1e-16)
        logs = self.y[:, None] * np.log(q) + (self.n - self.y)[:, None] * np.log1p(-q)
        top = logs.max(axis=1, keepdims=True)
        return self.choose + top[:, 0] + np.log((np.exp(logs - top) * WEIGHTS).sum(axis=1))

    def loglik(self, shape, theta):
        return float(self.trays(self.rates(shape, theta[:-1])[self.at], theta[-1]).sum())

    def highest(self, shape, starts, bounds, value=None, rounds=2):
        """The highest of local searches: bounded quasi-Newton, then a simplex for the last digits."""
        value = value or (lambda u: self.loglik(shape, u))
        low, high = np.array(bounds).T
        best, place = -np.inf, None
        for start in starts:
            inside = np.clip(start, low, high)
            done = minimize(lambda u: -value(u), inside, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-14})
            if -done.fun > best:
                best, place = -done.fun, done.x
        for _ in range(rounds):
            done = minimize(
                lambda u: -value(np.clip(u, low, high)),
                place,
                method="Nelder-Mead",
                options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 1500, "maxfev": 1500},
            )
            if -done.fun > best:
                best, place = -done.fun, np.clip(done.x, low, high)
        return best, place

    def starts(self, shape, count, seed):
        """Random points of the box, the best of many, all with a moderate spread."""
        rng = np.random.default_rng(seed)
        low, high = np.array(self.box(shape)).T
        points = low + rng.random((4000, len(low))) * (high - low)
        points[:, -1] = 0.05 if self.law == "beta-binomial" else 0.5
        levels = len(self.strengths)
        y = np.bincount(self.at, self.y, levels)
        n = np.bincount(self.at, self.n, levels)
        p = np.clip(np.array([self.rates(shape, point[:-1]) for point in points]), 1e-9, 1 - 1e-9)
        values = (y * np.log(p) + (n - y) * np.log1p(-p)).sum(axis=1)
        return points[np.argsort(-values)[:count]]

    def fit(self, shape, seed=1):
        bounds = self.box(shape)
        return self.highest(shape, self.starts(shape, 12, seed), bounds)

    def free(self):
        """A rate of its own for every strength."""
        levels = len(self.strengths)
        y = np.bincount(self.at, self.y, levels)
        n = np.bincount(self.at, self.n, levels)
        bounds = [*[(-25.0, 25.0)] * levels, self.box("flat")[-1]]

        def value(u):
            return float(self.trays(expit(u[:-1])[self.at], u[-1]).sum())

        starts = [np.append(logit((y + 0.5) / (n + 1)), spread) for spread in (0.01, 0.1, 0.4)]
        return max(self.highest(None, [start], bounds, value, 6)[0] for start in starts)

    def over_trays(self, p, spread):
        """The share rooted over all trays where a typical tray has the rate p."""
        if self.law == "beta-binomial":
            return float(p)
        return float((expit(logit(np.clip(p, 1e-13, 1 - 1e-13)) + spread * STEPS) * WEIGHTS).sum())


def limits(curve, shape, j, top, theta, cutoff):
    """Profile limits of coordinate j, everything else fitted anew, the spread included."""
    bounds = curve.box(shape)
    rest = [b for k, b in enumerate(bounds) if k != j]
    near = np.delete(theta, j)

    def fall(value):
        nonlocal near
        best, place = curve.highest(
            shape, [near, np.delete(theta, j)], rest, lambda u: curve.loglik(shape, np.insert(u, j, value))
        )
        near = place
        return 2 * (top - best) - cutoff

    found = []
    for sign in (-1, 1):
        step, end = 0.05, theta[j]
        near = np.delete(theta, j)
        while fall(end + sign * step) < 0:
            end += sign * step
        found.append(brentq(fall, end, end + sign * step, xtol=1e-9, rtol=1e-12))
    return found


def laws():
    made = []
    d, y, n, block = drawn()
    sets = {
        "crowder": (crowder(), ["flat", "straight", "falling", "hump"]),
        "invented": ((d, y, n), ["straight", "rising", "hump", "rise-and-fall", "brain-cousens"]),
    }
    for name, (data, shapes) in sets.items():
        for law in ("beta-binomial", "random"):
            curve = Curve(*data, law)
            free = curve.free()
            for shape in shapes:
                top, theta = curve.fit(shape)
                rates = curve.rates(shape, theta[:-1])
                row = {
                    "data": name,
                    "law": law,
                    "shape": shape,
                    "loglik": top,
                    "deviance": 2 * (free - top),
                    "spread": float(theta[-1]),
                    "takes": [curve.over_trays(p, theta[-1]) for p in rates],
                }
                if shape == "hump" and name == "invented":
                    dof = len(data[0]) - len(curve.strengths)
                    ends = limits(curve, shape, 2, top, theta, t.ppf(0.975, dof) ** 2)
                    strength = [
                        curve.axis.shift * np.expm1(curve.axis.x_low + u * curve.axis.x_span) for u in (theta[2], *ends)
                    ]
                    row["best"] = [float(x) for x in strength]
                made.append(row)
                print(row, flush=True)
    return made, {"strength": d, "rooted": y, "stuck": n, "block": block}


def blocks(data):
    """Straight and quadratic log odds with fixed blocks by iteratively weighted least squares, cuttings one by one."""
    d, y, n, block = (np.array(data[name]) for name in ("strength", "rooted", "stuck", "block"))
    axis = Axis(sorted(set(d)))
    x = (np.log1p(d / axis.shift) - axis.x_low) / axis.x_span
    # Blocks add up to 0.
    coded = np.array([[float(b == k) - float(b == 5) for k in range(5)] for b in block])
    counts, made = np.column_stack([y, n - y]), {}
    one = np.ones_like(x)
    for name, columns in [("straight", [one, x]), ("hump", [one, x, x * x])]:
        design = np.column_stack([*columns, coded])
        fit = binomial_fit(counts, design)
        shifts = fit.params[len(columns) :]
        value = {
            "loglik": float(fit.llf),
            "shifts": [*shifts, -shifts.sum()],
            "coefficients": fit.params[: len(columns)].tolist(),
        }
        if name == "hump":
            a, b, c = fit.params[:3]
            best = -b / (2 * c)

            def held(m, columns=columns):
                return binomial_fit(counts, np.column_stack([one, x * x - 2 * m * x, coded])).llf

            ends = profile_limits(held, fit.llf, best, (best - 0.2, best + 0.2), chi2.ppf(0.95, 1))
            value["best"] = [float(axis.shift * np.expm1(axis.x_low + u * axis.x_span)) for u in (best, *ends)]
            top = a - b * b / (4 * c)
            value["take"] = float(expit(top + np.array(value["shifts"])).mean())
            value["top"] = float(top)
        made[name] = value
    factors = sm.add_constant(np.array([[float(s == k) for k in axis.d[1:]] for s in d]))
    made["free"] = float(binomial_fit(counts, np.column_stack([factors, coded])).llf)
    return made


def main():
    made, data = laws()
    out = {
        "computed_with": f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, numpy {np.__version__}",
        "invented": data,
        "laws": made,
        "blocks": blocks(data),
    }
    OUT.write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
