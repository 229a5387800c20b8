"""Makes values/trays.json: adjusted P values, tray correlations, chi-squares and randomisation tests at 17 digits.

Needs: pip install numpy scipy statsmodels. Run: python tests/reference/make/trays.py

Adjusted P values are statsmodels'; one list is scipy's as well. Exact randomisation tests of two arms are scipy's
permutation_test over all assignments; with strata, with several treatments and for the interval by inversion all
assignments are gone through here. Beta-binomial fits maximise scipy's betabinom; the F test is statsmodels' least
squares with and without treatments. Trays are invented unless a file is named.
"""

import csv
import itertools
import json
from pathlib import Path

import numpy as np
import scipy
import statsmodels
from scipy import optimize, stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.multitest import multipletests

DATA = Path(__file__).parents[2] / "data"
ADJUSTMENTS = {
    "bonferroni": "bonferroni",
    "holm": "holm",
    "hochberg": "simes-hochberg",
    "hommel": "hommel",
    "sidak": "sidak",
    "sidak-step-down": "holm-sidak",
    "benjamini-hochberg": "fdr_bh",
    "benjamini-yekutieli": "fdr_by",
}
P_LISTS = [
    [0.04],
    [0.01, 0.02, 0.03, 0.04, 0.05],
    [0.049, 0.001, 0.049, 0.2, 0.001, 1.0],
    [1e-300, 3e-120, 2e-40, 1e-12, 0.5],
    [0.9, 0.8, 0.02, 0.013, 0.7, 0.012, 0.03, 0.0002],
]


def adjusted():
    for p_values in P_LISTS:
        for ours, theirs in ADJUSTMENTS.items():
            with np.errstate(divide="ignore"):  # log1p(-1)
                got = multipletests(p_values, method=theirs)[1]
            if ours == "benjamini-hochberg":
                assert np.allclose(got, stats.false_discovery_control(p_values), rtol=1e-12)
            yield {"what": "p_adjusted", "method": ours, "p": p_values, "want": list(map(float, got))}


def read(name, key, rooted, stuck):
    arms = {}
    with open(DATA / name, newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            arm = arms.setdefault(tuple(row[one] for one in key), ([], []))
            arm[0].append(int(row[rooted]))
            arm[1].append(int(row[stuck]))
    return [arms[name] for name in sorted(arms)]


def profile(arms, rho):
    """Log-likelihood at rho, highest over the means."""
    return sum(best_mean(np.array(rooted), np.array(stuck), (1 - rho) / rho) for rooted, stuck in arms)


def best_mean(rooted, stuck, phi):
    """Highest log-likelihood of one treatment over its mean."""

    def minus(p):
        return -stats.betabinom.logpmf(rooted, stuck, p * phi, (1 - p) * phi).sum()

    return -optimize.minimize_scalar(minus, bounds=(1e-9, 1 - 1e-9), method="bounded", options={"xatol": 1e-13}).fun


def binomial(arms):
    return sum(stats.binom.logpmf(rooted, stuck, sum(rooted) / sum(stuck)).sum() for rooted, stuck in arms)


def correlations():
    cases = {
        "crowder_seeds": read("crowder_seeds.csv", ["seed", "extract"], "germinated", "n"),
        "weil_rats": read("weil_1970.csv", ["group"], "survived", "n"),
        "three_arms": [
            ([3, 9, 6, 14], [20, 20, 20, 20]),
            ([12, 8, 15, 18], [20, 18, 20, 25]),
            ([0, 1, 0, 4], [20] * 4),
        ],
    }
    for name, arms in cases.items():
        best, low, high, loglik = likelihood(arms)
        yield {
            "what": "correlation",
            "name": name,
            "arms": arms,
            "beta_binomial": [best, low, high],
            "loglik": loglik,
            "p": float(stats.norm.sf(np.sqrt(2 * (loglik - binomial(arms))))),
            "anova": anova(arms),
        }


def likelihood(arms):
    """The correlation of highest likelihood, its profile limits, and the log-likelihood."""
    best = optimize.minimize_scalar(
        lambda rho: -profile(arms, rho), bounds=(1e-6, 0.9), method="bounded", options={"xatol": 1e-12}
    )
    drop = stats.chi2.isf(0.05, 1) / 2

    def gap(rho):
        return profile(arms, rho) + best.fun + drop

    low = optimize.brentq(gap, 1e-9, best.x, xtol=1e-14) if gap(1e-9) < 0 else 0.0
    high = optimize.brentq(gap, best.x, 0.95, xtol=1e-14)
    return float(best.x), float(low), float(high), float(-best.fun)


def anova(arms):
    """Intraclass correlation from the 0/1 cuttings themselves, with limits from F."""
    trays = [np.repeat([1.0, 0.0], [x, m - x]) for rooted, stuck in arms for x, m in zip(rooted, stuck, strict=True)]
    means = [sum(rooted) / sum(stuck) for rooted, stuck in arms for _ in rooted]
    n, k, a = sum(map(len, trays)), len(trays), len(arms)
    between = sum(len(t) * (t.mean() - mean) ** 2 for t, mean in zip(trays, means, strict=True)) / (k - a)
    within = sum(((t - t.mean()) ** 2).sum() for t in trays) / (n - k)
    size = (n - sum(sum(m * m for m in stuck) / sum(stuck) for _, stuck in arms)) / (k - a)
    f = between / within

    def at(one):
        return float((one - 1) / (one + size - 1))

    return [at(f), at(f / stats.f.isf(0.025, k - a, n - k)), at(f / stats.f.ppf(0.025, k - a, n - k))]


def orders():
    """First and second order corrections from the eigenvalues of the generalised design effect matrix."""
    for arms in [
        read("crowder_seeds.csv", ["seed", "extract"], "germinated", "n"),
        [([3, 9, 6, 14], [20, 20, 20, 20]), ([12, 8, 15, 18], [20, 18, 20, 25]), ([2, 1, 0, 6], [20] * 4)],
    ]:
        n = np.array([sum(stuck) for _, stuck in arms], float)
        p = np.array([sum(rooted) for rooted, _ in arms]) / n
        overall = (n * p).sum() / n.sum()
        effects = []
        for (rooted, stuck), rate, total in zip(arms, p, n, strict=True):
            x, m, k = np.array(rooted), np.array(stuck), len(rooted)
            variance = k / (k - 1) / total**2 * ((x - rate * m) ** 2).sum()
            effects.append(max(1.0, total * variance / (overall * (1 - overall))))
        share = np.sqrt(n / n.sum())
        form = (np.eye(len(n)) - np.outer(share, share)) @ np.diag(effects)
        roots = np.sort(np.linalg.eigvals(form).real)[1:]
        pearson = (n * (p - overall) ** 2).sum() / (overall * (1 - overall))
        spread = (roots**2).mean() / roots.mean() ** 2
        dof = len(n) - 1
        first, second = pearson / roots.mean(), pearson / roots.mean() / spread
        yield {
            "what": "rao_scott_orders",
            "arms": arms,
            "first": [float(first), float(stats.chi2.sf(first, dof))],
            "second": [
                float(second),
                float((len(n) - 1) / spread),
                float(stats.chi2.sf(second, (len(n) - 1) / spread)),
            ],
        }


def assignments(strata):
    """All ways to deal the second arm's trays within strata, as tuples of places."""
    start, ways = 0, []
    for first, second in strata:
        n = len(first) + len(second)
        ways.append([tuple(start + at for at in pick) for pick in itertools.combinations(range(n), len(second))])
        start += n
    for parts in itertools.product(*ways):
        yield [at for part in parts for at in part]


def centred(strata, values):
    out, start = np.array(values, float), 0
    for first, second in strata:
        n = len(first) + len(second)
        out[start : start + n] -= out[start : start + n].mean()
        start += n
    return out


def sides(strata, shift):
    """One-sided and two-sided P values of the randomisation test after taking `shift` off the second arm."""
    values, own = [], []
    for first, second in strata:
        values += [*first, *(x - shift for x in second)]
        own += [False] * len(first) + [True] * len(second)
    z = centred(strata, values)
    observed = z[np.array(own)].sum()
    sums = np.array([z[pick].sum() for pick in assignments(strata)])
    slack = 1e-10
    return (
        (sums >= observed - slack).mean(),
        (sums <= observed + slack).mean(),
        (np.abs(sums) >= abs(observed) - slack).mean(),
    )


def limit(strata, tail, upper):
    """The shift at which the one-sided P value crosses `tail`, by bisection."""
    low, high = -2.0, 2.0
    for _ in range(45):
        middle = (low + high) / 2
        right, left, _ = sides(strata, middle)
        if upper:
            low, high = (middle, high) if left > tail else (low, middle)
        else:
            low, high = (low, middle) if right > tail else (middle, high)
    return (low + high) / 2


def randomisations():
    cases = [
        [([0.2, 0.3, 0.25, 0.15], [0.6, 0.7, 0.55, 0.75])],
        [([0.2, 0.3, 0.25, 0.4, 0.35], [0.3, 0.5, 0.45, 0.25, 0.55, 0.6])],
        [([0.0, 0.05, 0.1, 0.0], [0.05, 0.15, 0.0, 0.2])],
        [([0.2, 0.35], [0.3, 0.5]), ([0.4, 0.45, 0.5], [0.5, 0.7]), ([0.1], [0.3])],
        [([0.35], [0.6]), ([0.4], [0.55]), ([0.3], [0.7]), ([0.5], [0.45]), ([0.2], [0.35]), ([0.45], [0.65])],
    ]
    for strata in cases:
        two_sided = float(sides(strata, 0.0)[2])
        if len(strata) == 1:
            first, second = strata[0]
            # their two-sided P doubles the smaller side; equal arms make that the same
            if len(first) == len(second):
                got = stats.permutation_test(
                    (second, first), lambda a, b, axis: a.mean(axis) - b.mean(axis), vectorized=True, n_resamples=np.inf
                )
                assert abs(got.pvalue - two_sided) < 1e-12
        tail = 0.05
        yield {
            "what": "randomisation",
            "strata": strata,
            "p": two_sided,
            "level": 0.90,
            "limits": [limit(strata, tail, False), limit(strata, tail, True)],
        }


def several():
    cases = [
        [([0.1, 0.2, 0.5, 0.6, 0.8, 0.9, 0.3, 0.35, 0.4], [0, 0, 1, 1, 2, 2, 0, 1, 2])],
        [([0.1, 0.4, 0.3], [0, 1, 2]), ([0.2, 0.35, 0.5], [0, 1, 2]), ([0.15, 0.3, 0.6], [0, 1, 2])],
        [([0.1, 0.4, 0.3, 0.2], [0, 1, 1, 2]), ([0.2, 0.5, 0.55], [0, 2, 2]), ([0.3, 0.35], [0, 1])],
    ]
    yield from (one_of_several(strata) for strata in cases)


def one_of_several(strata):
    rates = np.concatenate([rates for rates, _ in strata])
    treatment = np.concatenate([labels for _, labels in strata])
    block = np.concatenate([[at] * len(rates) for at, (rates, _) in enumerate(strata)])
    blocks = (block[:, None] == np.unique(block)).astype(float)

    def design(labels):
        return np.hstack([blocks, (np.asarray(labels)[:, None] == np.unique(treatment)[1:]).astype(float)])

    def residual(labels):
        """Residual sum of squares, which falls as F rises."""
        fitted = design(labels) @ np.linalg.lstsq(design(labels), rates, rcond=None)[0]
        return ((rates - fitted) ** 2).sum()

    f, p_f, _ = OLS(rates, design(treatment)).fit().compare_f_test(OLS(rates, blocks).fit())
    ways = [sorted(set(itertools.permutations(labels))) for _, labels in strata]
    found = [residual(np.concatenate(parts)) for parts in itertools.product(*ways)]
    p = np.mean(np.array(found) <= residual(treatment) + 1e-10)
    return {
        "what": "several",
        "strata": strata,
        "f": float(f),
        "p_value_f": float(p_f),
        "p": float(p),
        "assignments": len(found),
    }


def main():
    entries = [*adjusted(), *correlations(), *orders(), *randomisations(), *several()]
    made_with = f"numpy {np.__version__}, scipy {scipy.__version__}, statsmodels {statsmodels.__version__}"
    body = ",\n".join(json.dumps(entry) for entry in entries)
    text = json.dumps({"made_with": made_with}, indent=1)[:-2] + ',\n "entries": [\n' + body + "\n]}\n"
    Path(__file__).parents[1].joinpath("values", "trays.json").write_text(text)
    print(len(entries), "entries")


if __name__ == "__main__":
    main()
