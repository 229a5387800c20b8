"""Makes values/seasons.json: averages over trials, variances between them and tests of means, at 17 digits.

Needs: pip install scipy statsmodels numpy. Run: python tests/reference/make/seasons.py

Published: BCG vaccination (Colditz et al. 1994, tests/data/colditz_1994.csv, log risk ratios) and diuretics in
pregnancy (Collins, Yusuf and Peto 1985, tests/data/collins_1985.csv, log odds ratios; the counts are from memory, and
their log odds ratios and variances are those of Hardy and Thompson 1996, table I, to two decimals, also from memory).
The others are drawn. Referees: statsmodels anova_generic (Welch 1951); the variance between by Paule and Mandel, the
average, limits of Hartung and Knapp, the restricted likelihood, the Q profile and the draws of a new trial are written
out here with numpy and scipy, without the code of the project. statsmodels combine_effects is the second route where
its iteration leaves 0; the largest difference is kept.
"""

import csv
import json
import warnings
from pathlib import Path

import numpy as np
import scipy
import statsmodels
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.oneway import anova_generic

HERE = Path(__file__).resolve().parents[2]
DRAWS = 1_000_000


def scatter(t, y, v):
    w = 1 / (v + t)
    return np.sum(w * (y - np.sum(w * y) / np.sum(w)) ** 2)


def restricted(y, v):
    """The variance that maximises the restricted likelihood."""

    def minus(t):
        w = 1 / (v + t)
        mean = np.sum(w * y) / np.sum(w)
        return 0.5 * (np.sum(np.log(v + t)) + np.log(np.sum(w)) + np.sum(w * (y - mean) ** 2))

    reach = np.sum((y - y.mean()) ** 2)
    grid = np.concatenate([[0.0], np.geomspace(1e-8, 2, 4000) * reach])
    best = int(np.argmin([minus(t) for t in grid]))
    if best == 0:
        return 0.0
    ends = grid[best - 1], grid[min(best + 1, len(grid) - 1)]

    def slope(t):
        w = 1 / (v + t)
        mean = np.sum(w * y) / np.sum(w)
        return np.sum(w**2 * (y - mean) ** 2) - np.sum(w) + np.sum(w**2) / np.sum(w)

    if slope(ends[0]) <= 0:
        return 0.0
    return optimize.brentq(slope, *ends, xtol=1e-16, rtol=1e-14)


def profile(y, v, confidence=0.95):
    """Limits of the variance between."""
    tail, found = (1 - confidence) / 2, []
    for probability in (1 - tail, tail):
        q = stats.chi2.ppf(probability, len(y) - 1)
        high = np.sum((y - y.mean()) ** 2) / q + 1
        inside = scatter(0, y, v) > q
        found.append(optimize.brentq(lambda t, q=q: scatter(t, y, v) - q, 0, high, xtol=1e-16) if inside else 0.0)
    return found


def ahead(y, v, df, seed=20260101):
    """Limits of a new trial: variances, variance between, average and the new one, each drawn."""
    rng = np.random.default_rng(seed)
    k = len(y)
    drawn = v[None, :] * (df[None, :] / rng.chisquare(df, (DRAWS, k)))
    q = rng.chisquare(k - 1, DRAWS)
    low, high = np.zeros(DRAWS), np.full(DRAWS, np.sum((y - y.mean()) ** 2)) / q

    def at(t):
        w = 1 / (drawn + t[:, None])
        mean = (w @ y) / w.sum(1)
        return (w * (y[None, :] - mean[:, None]) ** 2).sum(1), mean, w.sum(1)

    for _ in range(60):
        middle = (low + high) / 2
        above = at(middle)[0] > q
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    t = np.where(at(np.zeros(DRAWS))[0] > q, (low + high) / 2, 0.0)
    _, mean, weight = at(t)
    new = mean + rng.standard_normal(DRAWS) / np.sqrt(weight) + np.sqrt(t) * rng.standard_normal(DRAWS)
    return [float(one) for one in np.quantile(new, [0.025, 0.975])]


def pooled_variance(y, v):
    """Paule and Mandel's: where the scatter is one less than there are trials."""
    if scatter(0, y, v) <= len(y) - 1:
        return 0.0
    high = np.sum((y - y.mean()) ** 2) / (len(y) - 1) + 1
    return float(optimize.brentq(lambda t: scatter(t, y, v) - (len(y) - 1), 0, high, xtol=1e-17))


def second_route(y, v, paule, average, reach):
    """The worst difference from statsmodels; none where its own iteration stays at 0."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = combine_effects(y, v, method_re="iterated", use_t=True, atol=1e-12, maxiter=100_000)
        row = found.summary_frame().loc["random effect wls"]
    theirs = (float(found.tau2), float(row["eff"]), float(row["ci_low"]), float(row["ci_upp"]))
    if theirs[0] <= 0 and paule > 0:
        return None
    ours = (max(paule, 0.0), average, average - reach, average + reach)
    return max(abs(one - other) for one, other in zip(ours, theirs, strict=True))


def case(name, y, v, df=None):
    y, v = np.asarray(y, float), np.asarray(v, float)
    paule = pooled_variance(y, v)
    w = 1 / (v + paule)
    average = np.sum(w * y) / np.sum(w)
    se = np.sqrt(scatter(paule, y, v) / (len(y) - 1) / np.sum(w))
    reach = stats.t.ppf(0.975, len(y) - 1) * se
    told = {
        "name": name,
        "values": y.tolist(),
        "variances": v.tolist(),
        "scatter": float(scatter(0, y, v)),
        "paule_mandel": paule,
        "restricted": float(restricted(y, v)),
        "profile": profile(y, v),
        "average": float(average),
        "hartung_knapp": [float(average - reach), float(average + reach)],
        "statsmodels": second_route(y, v, paule, average, reach),
    }
    if df is not None:
        df = np.asarray(df, float)
        n = df + 1
        test = anova_generic(y, v * n, n, use_var="unequal", welch_correction=True)
        told |= {
            "df": df.tolist(),
            "f": float(test.statistic),
            "error_df": float(test.df_denom),
            "p": float(test.pvalue),
        }
        told["ahead"] = ahead(y, v, df)
    return told


def rows(path):
    with open(HERE / "data" / path, encoding="utf-8") as held:
        lines = [line for line in held if not line.startswith("#")]
    return list(csv.DictReader(lines))


def published():
    y, v = [], []
    for row in rows("colditz_1994.csv"):
        a, b, c, d = (float(row[one]) for one in ("tpos", "tneg", "cpos", "cneg"))
        y.append(np.log(a / (a + b)) - np.log(c / (c + d)))
        v.append(1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))
    yield case("Colditz et al. 1994", y, v)
    y, v = [], []
    for row in rows("collins_1985.csv"):
        a, n, c, m = (float(row[one]) for one in ("treated_events", "treated", "control_events", "control"))
        y.append(np.log(a / (n - a)) - np.log(c / (m - c)))
        v.append(1 / a + 1 / (n - a) + 1 / c + 1 / (m - c))
    yield case("Collins et al. 1985", y, v)


def drawn():
    rng = np.random.default_rng(7)
    for k, spread in ((3, 0.0), (3, 0.1), (4, 0.05), (5, 0.03), (5, 0.1), (6, 0.06), (8, 0.02), (8, 0.1)):
        df = rng.integers(6, 21, k)
        se = rng.uniform(0.03, 0.08, k)
        v = se**2 * rng.chisquare(df) / df
        y = 0.1 + spread * rng.standard_normal(k) + se * rng.standard_normal(k)
        yield case(f"{k} drawn, spread {spread}", np.round(y, 4), np.round(v, 7), df)


def main():
    made = {"scipy": scipy.__version__, "statsmodels": statsmodels.__version__, "numpy": np.__version__, "draws": DRAWS}
    cases = [*published(), *drawn()]
    text = json.dumps({"made_with": made, "cases": cases}, indent=1)
    (HERE / "reference" / "values" / "seasons.json").write_text(text + "\n", encoding="utf-8")
    for one in cases:
        print(one["name"], one["paule_mandel"], one["restricted"], one["profile"], one["average"], one["statsmodels"])


main()
