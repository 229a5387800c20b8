"""Strength curves by an independent optimiser: values/curves.json.

Run with scipy 1.x and statsmodels from the top of the project: python tests/reference/make/curves.py
Every likelihood is maximised here by differential evolution over the whole box of a shape and polished by bounded
quasi-Newton steps, from shapes written in their textbook form where there is one. Nothing of rootling is imported.
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
from scipy.special import expit, gammaln
from scipy.stats import chi2, norm

HERE = Path(__file__).resolve().parent
DATA = HERE.parent.parent / "data"
OUT = HERE.parent / "values" / "curves.json"
EDGE = 1e-13


def binomial_fit(counts, design):
    return sm.GLM(counts, design, family=sm.families.Binomial()).fit(tol=1e-14, maxiter=200)


def choose(n, k):
    return gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)


def loglik(rates, y, n):
    p = np.clip(rates, EDGE, 1 - EDGE)
    return (y * np.log(p) + (n - y) * np.log1p(-p) + choose(n, y)).sum(axis=-1)


class Axis:
    """The box of every shape, as the design pages state it."""

    def __init__(self, d, shift=None):
        self.d = np.asarray(d, float)
        positive = self.d[self.d > 0]
        self.shift = positive[0] if shift is None else shift
        x = np.log1p(self.d / self.shift)
        self.x_low, self.x_span = x[0], x[-1] - x[0]
        self.t = (x - x[0]) / self.x_span
        with np.errstate(divide="ignore"):
            self.z = np.log(self.d)
        self.z_low, self.z_high = np.log(positive[0]), np.log(positive[-1])
        self.ln_d0 = np.log(self.shift)
        self.gap = np.clip(np.diff(np.log(positive)).min(), 1e-3, 4.0)

    def box(self, shape):
        wide = max(self.z_high - self.z_low, np.log(4.0))
        z = (self.z_low - wide, self.z_high + wide)
        steep = (np.log(0.2), np.log(max(20.0 / self.gap, 0.4)))
        one, k = (0.0, 1.0), (np.log(0.05), np.log(np.clip(20.0 / self.gap, 2.0, 30.0)))
        return {
            "natural-response": [one, z, steep],
            "rising": [one, one, z, steep],
            "falling": [one, z, steep],
            "hump": [(-25.0, 25.0), (0.0, 400.0), (-1.0, 2.0)],
            "rise-and-fall": [(-6.0, 9.0), (-6.0, 9.0), (np.log(1e-4), np.log(50.0)), (-1.0, 2.0)],
            "brain-cousens": [one, one, (np.log(1.05), np.log(np.clip(20.0 / self.gap, 2.0, 30.0))), z],
            **{power: [one, one, k, (np.clip(self.ln_d0 - np.log(8.0), z[0], self.z_low), z[1])] for power in POWERS},
        }[shape]

    def rates(self, shape, theta):
        """Rates at all strengths; theta has one row per point."""
        th = [theta[..., j, None] for j in range(theta.shape[-1])]
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            if shape in ("rising", "natural-response"):
                floor, gain, middle, steep = th if shape == "rising" else (th[0], 1.0, th[1], th[2])
                return floor + gain * (1 - floor) * expit(np.exp(steep) * (self.z - middle))
            if shape == "falling":
                return th[0] * expit(-np.exp(th[2]) * (self.z - th[1]))
            if shape == "hump":
                return expit(th[0] - th[1] * (self.t - th[2]) ** 2)
            if shape == "rise-and-fall":
                k, off = np.exp(th[2]), self.t - th[3]
                rise, fall = k * (1 + np.exp(th[0])), k * (1 + np.exp(th[1]))
                return expit(th[0] + rise * off) * expit(th[1] - fall * off)
            if shape in POWERS:
                return self.cedergreen(POWERS[shape], *th)
            top, gain, b, at = th[0], th[1], np.exp(th[2]), np.exp(th[3])
            u = gain / (b - 1)
            c, f, e = top * (1 - gain), top * b * u / at, at * u ** (-1 / b)
            return (c + f * self.d) / (1 + (self.d / e) ** b)

    def cedergreen(self, alpha, top, gain, ln_k, ln_at):
        """Textbook form from the top: slope 0 there gives b and e, take at 0 gives c."""
        k, at = np.exp(ln_k), np.exp(ln_at)
        a = (self.shift / at) ** alpha
        b = k + alpha * a
        w = gain * alpha * a / k
        c, f = top * (1 - gain), top * (gain + w) * np.exp(a)
        stimulation = np.exp(-((self.shift / self.d) ** alpha))
        return (c + f * stimulation) / (1 + w * (self.d / at) ** b)


def search(axis, shape, y, n, seed, generations=150, population=50, polished=2):
    """Differential evolution over the whole box, then polished from the best points."""
    rng = np.random.default_rng(seed)
    low, high = np.array(axis.box(shape)).T

    def value(unit):
        return loglik(axis.rates(shape, low + unit * (high - low)), y, n)

    points = rng.random((population, len(low)))
    values = value(points)
    for _ in range(generations):
        a, b, c = (points[rng.permutation(population)] for _ in range(3))
        best = points[values.argmax()]
        base = np.where(rng.random((population, 1)) < 0.3, best, a)
        trial = base + rng.uniform(0.4, 0.95, (population, 1)) * (b - c)
        trial = np.where(rng.random(points.shape) < 0.9, trial, points)
        trial = np.where((trial < 0) | (trial > 1), rng.random(points.shape), trial)
        # The ends of the box are points of their own.
        trial = np.where(rng.random(points.shape) < 0.02, np.round(trial), trial)
        new = value(trial)
        better = new > values
        points[better], values[better] = trial[better], new[better]
    best, place = -np.inf, None
    for start in [*points[np.argsort(-values)[:polished]], *points[rng.permutation(population)[:1]]]:
        done = minimize(
            lambda u: -value(u),
            start,
            method="L-BFGS-B",
            bounds=[(0, 1)] * len(low),
            options={"ftol": 1e-15, "gtol": 1e-9, "maxiter": 2000},
        )
        done = minimize(
            lambda u: -value(np.clip(u, 0, 1)),
            done.x,
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 800, "maxfev": 800},
        )
        start = np.clip(done.x, 0, 1)
        if -done.fun > best:
            best, place = -done.fun, low + start * (high - low)
    return best, place


STRENGTHS = [
    [0, 500, 1000, 2000, 4000, 8000],
    [0, 1000, 2500, 5000, 10000],
    [0, 250, 500, 1000, 2000, 4000, 8000, 16000],
    [0, 100, 300, 1000, 3000, 10000],
    [500, 1000, 2000, 4000, 8000],
    [0, 10, 1000, 10000, 100000, 10000000],
]
# The power of the stimulation by the name of the shape here.
POWERS = {"cedergreen 0.25": 0.25, "cedergreen 0.5": 0.5, "cedergreen 1": 1.0}
SEARCHED = ["natural-response", "rising", "falling", "hump", "rise-and-fall", "brain-cousens"]


def drawn_sets():
    """200 data sets: random curves, steep and flat, cells at 0 and 100 %; two shapes each in turn."""
    rng = np.random.default_rng(20261126)
    made = []
    for number in range(200):
        axis = Axis(STRENGTHS[(number // 6 + number) % len(STRENGTHS)])
        truth = SEARCHED[rng.integers(len(SEARCHED))]
        low, high = np.array(axis.box(truth)).T
        if truth == "hump":
            low, high = np.array([-3.0, 0.0, -0.3]), np.array([3.0, 30.0, 1.3])
        if truth == "rise-and-fall":
            low, high = np.array([-1.0, -1.0, np.log(0.02), -0.2]), np.array([4.0, 4.0, np.log(6.0), 1.2])
        theta = low + rng.random(len(low)) * (high - low)
        n = rng.integers(8, 80, len(axis.d))
        y = rng.binomial(n, np.clip(axis.rates(truth, theta), 0, 1))
        if y.sum() in (0, n.sum()):
            y[0], y[-1] = 1, n[-1] - 1
        made.append((axis, y, n))
    return made


def softened(y, n):
    """Half a cutting more of both outcomes where all cuttings rooted or none did."""
    ends = (y == 0) | (y == n)
    return y + 0.5 * ends, n + 1.0 * ends


def globals_of_sets():
    rows = []
    for number, (axis, y, n) in enumerate(drawn_sets()):
        shapes = [SEARCHED[number % 6], SEARCHED[(number + 3) % 6]]
        shapes = [shape for shape in shapes if len(axis.box(shape)) <= len(axis.d)]
        found = {shape: float(search(axis, shape, y, n, 1000 + number)[0]) for shape in shapes}
        if number % 3 == 0:
            found["cedergreen"] = max(float(search(axis, power, y, n, 1000 + number)[0]) for power in POWERS)
        row = {"strength": axis.d.tolist(), "rooted": y.tolist(), "stuck": n.tolist(), "loglik": found}
        if ((y == 0) | (y == n)).any():
            row["softened"] = softened_search(axis, found, (y, n), number)
        rows.append(row)
        print(number, {k: round(v, 4) for k, v in found.items()}, flush=True)
    return rows


def softened_search(axis, shapes, counts, number):
    """The same searches on softened counts; the binomial coefficients stay those of the counts."""
    plain, counts = choose(*counts[::-1]).sum(), softened(*counts)
    made, change = {}, plain - choose(*counts[::-1]).sum()
    for shape in shapes:
        powers = POWERS if shape == "cedergreen" else [shape]
        made[shape] = change + max(float(search(axis, power, *counts, 1000 + number)[0]) for power in powers)
    return made


def table(name, columns):
    with (DATA / name).open() as file:
        rows = list(csv.DictReader(file))
    return [np.array([float(row[column]) for row in rows]) for column in columns]


def profile_limits(held, top, estimate, ends, cutoff):
    """Where twice the fall reaches the cutoff on either side; `held(value)` is the maximised log-likelihood."""

    def fall(value):
        return 2 * (top - held(value)) - cutoff

    return [brentq(fall, estimate, end, xtol=1e-12, rtol=1e-13) for end in ends]


def polish(value, starts, bounds):
    best = -np.inf
    for start in starts:
        done = minimize(
            lambda u: -value(u), start, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-16, "gtol": 1e-10}
        )
        done = minimize(
            lambda u: -value(np.clip(u, *np.array(bounds).T)),
            done.x,
            method="Nelder-Mead",
            options={"xatol": 1e-12, "fatol": 1e-14, "maxiter": 8000, "maxfev": 8000},
        )
        best = max(best, -done.fun)
    return best


def hump_tops():
    """The invented hump: best strength with profile limits, one shape at a time, no spread between trays."""
    d, y, n = table("hump_invented.csv", ["strength_mg_l", "rooted", "n"])
    axis, cutoff, made = Axis(d), chi2.ppf(0.95, 1), {}
    for shape, j in [("hump", 2), ("rise-and-fall", 3), ("brain-cousens", 3)]:
        top, theta = search(axis, shape, y, n, 5, 400, polished=6)
        bounds = axis.box(shape)
        rest = [b for k, b in enumerate(bounds) if k != j]

        def held(value, shape=shape, j=j, theta=theta, rest=rest):
            def one(u):
                return loglik(axis.rates(shape, np.insert(u, j, value)), y, n)

            return polish(one, [np.delete(theta, j)], rest)

        on_x = shape != "brain-cousens"
        ends = (0.02, 0.98) if on_x else (np.log(200.0), np.log(8000.0))
        limits = profile_limits(held, top, theta[j], ends, cutoff)

        def strength(at, on_x=on_x):
            return float(axis.shift * np.expm1(axis.x_low + at * axis.x_span) if on_x else np.exp(at))

        made[shape] = {
            "loglik": top,
            "value": strength(theta[j]),
            "low": strength(limits[0]),
            "high": strength(limits[1]),
        }
    made["cedergreen"] = cedergreen_top(axis, y, n, cutoff)
    return made


def cedergreen_top(axis, y, n, cutoff):
    """All three powers: the top of their average, limits that hold what one of them allows; each power by itself."""
    found = {power: search(axis, power, y, n, 5, 400, polished=6) for power in POWERS}
    highest = max(top for top, _ in found.values())
    weights = {power: np.exp(top - highest) for power, (top, _) in found.items()}
    fine = Axis(axis.d)
    fine.d = np.linspace(axis.d[0], axis.d[-1], 2_000_001)
    fine.z = np.log(np.maximum(fine.d, 1e-300))
    take = sum(weights[power] * fine.rates(power, theta) for power, (_, theta) in found.items()) / sum(weights.values())
    at = int(take.argmax())
    # The parabola through the three points at the top.
    left, middle, right = take[at - 1 : at + 2]
    value = fine.d[at] + 0.5 * (left - right) / (left - 2 * middle + right) * (fine.d[1] - fine.d[0])
    limits, parts = [], {}
    for power, (top, theta) in found.items():
        bounds = axis.box(power)

        def held(value, power=power, theta=theta, bounds=bounds):
            # Several tops lie beside each other far from the estimate.
            low, high = np.array(bounds[:3]).T
            starts = [theta[:3], *(low + np.random.default_rng(7).random((20, 3)) * (high - low))]
            return polish(lambda u: loglik(axis.rates(power, np.append(u, value)), y, n), starts, bounds[:3])

        allowed = cutoff - 2 * (highest - top)
        parts[POWERS[power]] = {"loglik": top, "top": float(np.exp(theta[3])), "take": float(theta[0])}
        if allowed < 0:
            continue
        limits.append(np.exp(profile_limits(held, top, theta[3], (np.log(200.0), np.log(8000.0)), allowed)))
    return {
        "loglik": highest,
        "value": float(value),
        "low": float(min(low for low, _ in limits)),
        "high": float(max(high for _, high in limits)),
        "powers": parts,
    }


def natural():
    """Finney's moth eggs: natural response by the probit, strengths in percent; profile limits."""
    d, y, n = table("finney_ephestia_control_mortality.csv", ["dose_percent", "dead", "n"])
    with np.errstate(divide="ignore"):
        z = np.log(d)

    def value(u):
        return loglik(u[0] + (1 - u[0]) * norm.cdf(np.exp(u[2]) * (z - u[1])), y, n)

    bounds = [(0, 1), (np.log(0.0025) - 3, np.log(0.05) + 3), (np.log(0.2), np.log(40))]
    start = np.array([0.585, np.log(0.0113), np.log(1.67)])
    done = minimize(
        lambda u: -value(u), start, method="Nelder-Mead", options={"xatol": 1e-12, "fatol": 1e-14, "maxiter": 20000}
    )

    def held(middle):
        return polish(lambda u: value(np.array([u[0], middle, u[1]])), [done.x[[0, 2]]], [bounds[0], bounds[2]])

    limits = profile_limits(held, -done.fun, done.x[1], (done.x[1] - 1.2, done.x[1] + 0.8), chi2.ppf(0.95, 1))
    return {
        "loglik": -done.fun,
        "floor": done.x[0],
        "halfway": float(np.exp(done.x[1])),
        "steepness": float(np.exp(done.x[2])),
        "halfway_low": float(np.exp(limits[0])),
        "halfway_high": float(np.exp(limits[1])),
    }


def potency():
    """Two parallel lines (Bliss' beetles, and other counts at the same strengths): GLM, profile by offset."""
    _, x, n, y = table("bliss_beetles.csv", ["dose_mg_per_l", "log10_dose", "n", "killed"])
    other = np.array([2, 6, 11, 19, 40, 48, 57, 59])
    ln, group = np.log(10.0) * np.concatenate([x, x]), np.repeat([0.0, 1.0], len(x))
    counts = np.column_stack([np.concatenate([y, other]), np.concatenate([n - y, n - other])])
    both = binomial_fit(counts, np.column_stack([np.ones_like(ln), ln, group]))
    apart = binomial_fit(counts, np.column_stack([np.ones_like(ln), ln, group, group * ln]))
    one = binomial_fit(counts, np.column_stack([np.ones_like(ln), ln]))
    value = both.params[2] / both.params[1]

    def held(r):
        return binomial_fit(counts, np.column_stack([np.ones_like(ln), ln + r * group])).llf

    limits = profile_limits(held, both.llf, value, (value - 0.1, value + 0.1), chi2.ppf(0.95, 1))
    return {
        "other": other.tolist(),
        "relative_potency": float(np.exp(value)),
        "low": float(np.exp(limits[0])),
        "high": float(np.exp(limits[1])),
        "same_form": float(2 * (apart.llf - both.llf)),
        "p_same_form": float(chi2.sf(2 * (apart.llf - both.llf), 1)),
        "same_curve": float(2 * (both.llf - one.llf)),
        "p_same_curve": float(chi2.sf(2 * (both.llf - one.llf), 1)),
        "no_difference": float(2 * (apart.llf - one.llf)),
        "p_no_difference": float(chi2.sf(2 * (apart.llf - one.llf), 2)),
    }


def straight():
    """The straight line in log(1 + d/d0) on Bliss' beetles, d0 = 50: slope, deviance, strength for half by Fieller."""
    _, x, n, y = table("bliss_beetles.csv", ["dose_mg_per_l", "log10_dose", "n", "killed"])
    axis = np.log1p(10**x / 50.0)
    counts = np.column_stack([y, n - y])
    fit = binomial_fit(counts, sm.add_constant(axis))
    (a, b), v = fit.params, fit.cov_params()
    q = norm.ppf(0.975) ** 2
    roots = np.sort(np.roots([b * b - q * v[1, 1], 2 * (a * b - q * v[0, 1]), a * a - q * v[0, 0]]))
    half = -a / b

    def held(m):
        return binomial_fit(counts, (axis - m)[:, None]).llf

    limits = profile_limits(held, fit.llf, half, (half - 0.05, half + 0.05), chi2.ppf(0.95, 1))

    def strength(m):
        return (50.0 * np.expm1(np.asarray(m))).tolist()

    return {
        "intercept": a,
        "slope": b,
        "deviance": fit.deviance,
        "half": strength(half),
        "fieller": strength(roots),
        "profile": strength(limits),
    }


def main():
    made = {
        "computed_with": f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, numpy {np.__version__}",
        "hump": hump_tops(),
        "natural": natural(),
        "potency": potency(),
        "straight": straight(),
    }
    print(json.dumps(made, indent=1))
    made["global"] = globals_of_sets()
    OUT.write_text(json.dumps(made, indent=1) + "\n")


if __name__ == "__main__":
    main()
