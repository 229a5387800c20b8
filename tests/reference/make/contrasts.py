"""Makes values/contrasts.json: signed roots, profile limits and joint P values of contrasts of averaged rates.

Needs: pip install numpy scipy. Run: python tests/reference/make/contrasts.py   from the top of the project.

A route of its own: the equations of the constrained maximum and those of a profile limit are solved as such by
scipy.optimize.root (score = multiplier x slope of the contrast, beside the contrast's value or the likelihood's), with
no step, no halving and no search shared with the Rust code. Correlations are those at the constrained maximum with all
contrasts 0.
"""

import csv
import json
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize, stats

DATA = Path("tests/data")


def read(name):
    with (DATA / name).open() as file:
        return list(csv.DictReader(file))


class Fit:
    """A logit model of counts: x in rows."""

    def __init__(self, x, rooted, stuck):
        self.x, self.y, self.m = (np.asarray(part, float) for part in (x, rooted, stuck))
        self.best = optimize.root(self.score, np.zeros(self.x.shape[1]), method="hybr", options={"xtol": 1e-14}).x
        for _ in range(20):
            self.best = self.best + np.linalg.solve(self.information(self.best), self.score(self.best))
        p = self.rate(self.x, self.best)
        self.dof = len(self.y) - self.x.shape[1]
        pearson = np.sum((self.y - self.m * p) ** 2 / (self.m * p * (1 - p)))
        self.dispersion = max(1.0, pearson / self.dof)

    @staticmethod
    def rate(x, b):
        return 1 / (1 + np.exp(-(x @ b)))

    def value(self, b):
        eta = self.x @ b
        return np.sum(self.y * eta - self.m * np.logaddexp(0, eta))

    def score(self, b):
        return self.x.T @ (self.y - self.m * self.rate(self.x, b))

    def information(self, b):
        p = self.rate(self.x, b)
        return (self.x * (self.m * p * (1 - p))[:, None]).T @ self.x


def contrast(parts, scale):
    """Value and slope of a contrast: parts are (weight, rows averaged)."""
    link = {
        "points": lambda p: (p, 1.0),
        "ratio": lambda p: (np.log(p), 1 / p),
        "odds": lambda p: (np.log(p / (1 - p)), 1 / (p * (1 - p))),
    }[scale]

    def of(b):
        value, slope = 0.0, 0.0
        for weight, rows in parts:
            p = Fit.rate(rows, b)
            mean, down = p.mean(), (p * (1 - p)) @ rows / len(rows)
            at, by = link(mean)
            value, slope = value + weight * at, slope + weight * by * down
        return value, slope

    return of


def solved(equations, start):
    found = optimize.root(equations, start, method="hybr", options={"xtol": 1e-13})
    assert np.max(np.abs(equations(found.x))) < 1e-8, found
    return found.x


def held(fit, contrasts, start):
    """The maximum with all contrasts 0."""
    size, count = len(fit.best), len(contrasts)

    def equations(x):
        b, v = x[:size], x[size:]
        at = [one(b) for one in contrasts]
        pull = sum(k * slope for k, (_, slope) in zip(v, at, strict=True))
        return np.concatenate([fit.score(b) - pull, [value for value, _ in at]])

    return solved(equations, np.concatenate([start, np.zeros(count)]))[:size]


def profile(fit, one):
    estimate, slope = one(fit.best)
    null = held(fit, [one], fit.best)
    root = np.sign(estimate) * np.sqrt(max(0.0, 2 * (fit.value(fit.best) - fit.value(null)) / fit.dispersion))
    critical = stats.t.ppf(0.975, fit.dof)
    target = fit.value(fit.best) - 0.5 * critical**2 * fit.dispersion
    inverse = np.linalg.inv(fit.information(fit.best))
    size = len(fit.best)
    ends = []
    for side in (-1, 1):
        step = inverse @ slope / np.sqrt(slope @ inverse @ slope)

        def equations(x):
            b, k = x[:size], x[size]
            return np.concatenate([fit.score(b) - k * one(b)[1], [fit.value(b) - target]])

        for reach in (1.0, 0.7, 1.3):
            b = fit.best + side * reach * critical * np.sqrt(fit.dispersion) * step
            k = -side * critical * np.sqrt(fit.dispersion) / np.sqrt(slope @ inverse @ slope)
            try:
                end = one(solved(equations, np.append(b, k))[:size])[0]
            except AssertionError:
                continue
            if np.sign(end - estimate) == side:
                ends.append(end)
                break
    assert len(ends) == 2
    p = 2 * stats.t.sf(abs(root), fit.dof)
    return {"value": estimate, "statistic": root, "low": ends[0], "high": ends[1], "p": p}


def family(fit, contrasts):
    rows = [profile(fit, one) for one in contrasts]
    null = held(fit, contrasts, fit.best)
    inverse = np.linalg.inv(fit.information(null))
    slopes = np.array([one(null)[1] for one in contrasts])
    v = slopes @ inverse @ slopes.T
    r = v / np.sqrt(np.outer(np.diag(v), np.diag(v)))
    joint = stats.multivariate_t(shape=r, df=fit.dof, seed=1)
    for row in rows:
        t = abs(row["statistic"])
        ends = np.full(len(rows), t)
        row["joint_p"] = 1 - joint.cdf(ends, maxpts=400_000 * len(rows), lower_limit=-ends)
    return {"df": fit.dof, "dispersion": fit.dispersion, "rows": rows, "correlation": r.tolist()}


def plates():
    data = read("crowder_seeds.csv")
    seeds, extracts = (sorted({row[name] for row in data}) for name in ("seed", "extract"))

    def cell(seed, extract):
        s, e = float(seed == seeds[1]), float(extract == extracts[1])
        return [1.0, s, e, s * e]

    cells = [cell(row["seed"], row["extract"]) for row in data]
    fit = Fit(cells, [int(row["germinated"]) for row in data], [int(row["n"]) for row in data])

    def one(seed, extract):
        return np.array([cell(seed, extract)])

    out = {}
    for scale in ("points", "ratio", "odds"):
        within = [contrast([(1, one(seed, extracts[1])), (-1, one(seed, extracts[0]))], scale) for seed in seeds]
        out[f"extract within seed, {scale}"] = family(fit, within)
        averaged = [np.array([cell(seed, extract) for extract in extracts]) for seed in seeds]
        out[f"seed, {scale}"] = family(fit, [contrast([(1, averaged[1]), (-1, averaged[0])], scale)])
    return out


def benches():
    data = read("trays_invented.csv")
    blocks = sorted({row["block"] for row in data}, key=int)
    strengths = sorted({row["strength_mg_l"] for row in data}, key=float)

    def cell(block, strength):
        return [1.0, *(float(block == b) for b in blocks[1:]), *(float(strength == s) for s in strengths[1:])]

    cells = [cell(row["block"], row["strength_mg_l"]) for row in data]
    fit = Fit(cells, [int(row["rooted"]) for row in data], [int(row["set"]) for row in data])
    averaged = [np.array([cell(block, strength) for block in blocks]) for strength in strengths]
    out = {}
    for scale in ("points", "ratio"):
        against = [contrast([(1, rows), (-1, averaged[0])], scale) for rows in averaged[1:]]
        out[f"strength against the first, {scale}"] = family(fit, against)
    scores = np.array([float(s) for s in strengths])
    weights = (scores - scores.mean()) * (scores.max() - scores.min()) / np.sum((scores - scores.mean()) ** 2)
    out["trend of strength, points"] = family(fit, [contrast(list(zip(weights, averaged, strict=True)), "points")])
    return out


made = {
    "made_with": f"numpy {np.__version__}, scipy {scipy.__version__}",
    "plates": plates(),
    "benches": benches(),
}
Path("tests/reference/values/contrasts.json").write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
