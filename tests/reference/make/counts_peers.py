"""Makes values/counts_peers.json: generated 2 x 2 tables, pairs, ordered tables, strata and lists of P values.

Needs: pip install scipy statsmodels mpmath, and R (counts_peers.R beside this file). Run:
python tests/reference/make/counts_peers.py

Routes: R (fisher.test, chisq.test, mcnemar.test, binom.test, p.adjust), statsmodels (StratifiedTable, mcnemar), and for
what they lack the definitions, worked here in whole numbers, with mpmath at 40 digits or with numpy: Tango's and
Newcombe's limits of paired differences, (N - 1) r^2 of ordered tables, the generalised tests of Landis, Heyman and Koch
by Kronecker products, and the Mantel-Haenszel ratio and difference with their standard errors.

Definitions to know: R's two-sided fisher.test sums probabilities with relative slack 1e-7, as ours does. R's chisq.test
takes less than 1/2 off where the difference is smaller, as ours does. R's P values lose digits below about 1e-290 and
are left out there.
"""

from __future__ import annotations

import json
import math
import random
import subprocess
from fractions import Fraction
from pathlib import Path

import mpmath as mp
import numpy as np
import scipy
import statsmodels
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable, mcnemar

mp.mp.dps = 40
Z = mp.sqrt(2) * mp.erfinv(mp.mpf("0.95"))
HERE = Path(__file__).parent
RANDOM = random.Random(20261127)


def asked_of_r(lines: list[str]) -> list[list[float]]:
    """One line of numbers for each line asked."""
    command = ["Rscript", str(HERE / "counts_peers.R")]
    done = subprocess.run(command, input="\n".join(lines) + "\n", capture_output=True, text=True, check=True)
    return [
        [float(part) if part != "NA" else math.nan for part in line.split(";")] for line in done.stdout.splitlines()
    ]


def two_by_two() -> list[dict]:
    """200 tables from tiny to 10^6 with zeros, some far in the tail."""
    found = []
    while len(found) < 200:
        size = RANDOM.choice([5, 12, 40, 150, 1000, 10_000, 100_000, 1_000_000])
        n1, n2 = RANDOM.randint(max(1, size // 4), size), RANDOM.randint(max(1, size // 4), size)
        p1 = RANDOM.choice([0.0, RANDOM.random(), RANDOM.random(), RANDOM.random() ** 3, 1.0])
        p2 = min(1.0, max(0.0, p1 + RANDOM.gauss(0, 8) * 0.5 / n2**0.5)) if RANDOM.random() < 0.8 else RANDOM.random()
        a, c = round(p1 * n1), round(p2 * n2)
        if 0 < a + c < n1 + n2:
            found.append({"table": [[a, n1 - a], [c, n2 - c]]})
    lines = ["two;" + ",".join(str(n) for row in case["table"] for n in row) for case in found]
    for case, (both, less, greater, chi, p, corrected) in zip(found, asked_of_r(lines), strict=True):
        case |= {
            "two_sided": both,
            "less": less,
            "greater": greater,
            "pearson": chi,
            "pearson_p": p,
            "corrected_p": corrected,
        }
    return found


def tango(table: list[list[int]]) -> list[float]:
    """Differences d with (b - c - n d)^2 = z^2 n (p12 + p21 - d^2), p21 the likeliest under d (a quadratic)."""
    (a, b), (c, d) = table
    n = a + b + c + d

    def excess(delta):
        second, first = 2 * n, (2 * n - b + c) * delta - b - c
        p21 = (-first + mp.sqrt(first * first + 4 * second * c * delta * (1 - delta))) / (2 * second)
        off = b - c - n * delta
        return off * off - Z**2 * n * (2 * p21 + delta * (1 - delta))

    value, limits = mp.mpf(b - c) / n, []
    for end in (-1, 1):
        if value == end:
            limits.append(float(end))
            continue
        near, far = value + end * mp.mpf("1e-30"), mp.mpf(end)
        for _ in range(140):
            middle = (near + far) / 2
            near, far = (middle, far) if excess(middle) < 0 else (near, middle)
        limits.append(float(near))
    return limits


def newcombe(table: list[list[int]]) -> list[float]:
    """Method 10 of Newcombe's paper on pairs."""
    (a, b), (c, d) = table
    n = a + b + c + d

    def wilson(x):
        centre, spread = 2 * x + Z**2, Z * mp.sqrt(Z**2 + mp.mpf(4 * x * (n - x)) / n)
        return (centre - spread) / (2 * (n + Z**2)), (centre + spread) / (2 * (n + Z**2))

    product = (a + b) * (c + d) * (a + c) * (b + d)
    excess = mp.mpf(a * d - b * c)
    if excess > 0:
        excess = max(excess - mp.mpf(n) / 2, 0)
    phi = excess / mp.sqrt(product) if product else mp.mpf(0)
    p1, p2 = mp.mpf(a + b) / n, mp.mpf(a + c) / n
    (l1, u1), (l2, u2) = wilson(a + b), wilson(a + c)
    joined = lambda x, y: mp.sqrt(max(x * x - 2 * phi * x * y + y * y, 0))  # noqa: E731
    return [float(p1 - p2 - joined(p1 - l1, u2 - p2)), float(p1 - p2 + joined(u1 - p1, p2 - l2))]


def pairs() -> list[dict]:
    """60 tables of pairs with zeros, up to 10^5."""
    found = []
    while len(found) < 60:
        size = RANDOM.choice([10, 40, 200, 5000, 100_000])
        counts = [round(size * RANDOM.random() ** RANDOM.choice([1, 3, 8])) for _ in range(4)]
        if counts[1] + counts[2]:
            found.append({"table": [counts[:2], counts[2:]]})
    lines = ["pairs;" + ",".join(str(n) for row in case["table"] for n in row) for case in found]
    for case, (plain, corrected, exact) in zip(found, asked_of_r(lines), strict=True):
        (_, b), (c, _) = case["table"]
        # Equal counts leave R's corrected statistic (|0| - 1)^2 / m where ours is 0.
        case |= {"plain": plain, "corrected": 1.0 if b == c else corrected, "exact": exact}
        case |= {"exact_statsmodels": float(mcnemar(case["table"], exact=True).pvalue)}
        # mid-P from whole numbers: P(X < x) + P(X = x) / 2, doubled
        few, m = min(b, c), b + c
        if m <= 2000:
            tail = Fraction(2 * sum(math.comb(m, k) for k in range(few)) + math.comb(m, few), 2 ** (m + 1))
            case |= {"mid_p": float(min(Fraction(1), 2 * tail))}
        case |= {"tango": tango(case["table"]), "newcombe": newcombe(case["table"])}
    return found


def adjusted() -> list[dict]:
    """40 lists of P values, with ties, zeros and values down to 1e-300."""
    found = []
    for at in range(40):
        size = RANDOM.choice([1, 2, 3, 5, 8, 15, 40])
        # Twelve digits are read exactly by any program.
        values = [float(f"{RANDOM.random() ** RANDOM.choice([1, 4, 30]):.11e}") for _ in range(size)]
        if at % 4 == 0:
            values += [values[0], 1.0]
        if at % 8 == 1:
            values += [0.0, 1e-300]
        found.append({"p": values})
    for case, answer in zip(
        found, asked_of_r(["adjust;" + ",".join(map(repr, case["p"])) for case in found]), strict=True
    ):
        size = len(case["p"])
        names = ("bonferroni", "holm", "hochberg", "hommel", "benjamini-hochberg", "benjamini-yekutieli")
        case |= {name: answer[k * size : (k + 1) * size] for k, name in enumerate(names)}
    return found


def drawn_table(rows: int, columns: int, total: int) -> list[list[int]]:
    """A random table without empty rows or columns."""
    while True:
        weights = np.array([[RANDOM.random() for _ in range(columns)] for _ in range(rows)])
        cells = np.random.default_rng(RANDOM.randrange(2**30)).multinomial(total, (weights / weights.sum()).ravel())
        table = cells.reshape(rows, columns)
        if table.sum(0).all() and table.sum(1).all():
            return table.tolist()


def ordered() -> list[dict]:
    """40 ordered tables up to 6 x 5: correlation of the scores by single plants, and the statistic."""
    found = []
    for _ in range(40):
        rows, columns = RANDOM.randint(2, 6), RANDOM.randint(2, 5)
        table = drawn_table(rows, columns, RANDOM.randint(30, 400))
        u, v = sorted(RANDOM.sample(range(20), rows)), sorted(RANDOM.sample(range(9), columns))
        first = [u[i] for i in range(rows) for j in range(columns) for _ in range(table[i][j])]
        second = [v[j] for i in range(rows) for j in range(columns) for _ in range(table[i][j])]
        r = float(np.corrcoef(first, second)[0, 1])
        statistic = (len(first) - 1) * r * r
        found.append({
            "table": table, "rows": u, "columns": v, "correlation": r, "statistic": statistic,
            "p": float(stats.chi2.sf(statistic, 1)),
        })  # fmt: skip
    return found


def landis(strata: list[list[list[int]]]) -> dict[str, list[float]]:
    """General association, row mean scores and correlation, by Kronecker products."""
    shape = np.array(strata[0]).shape
    made = {}
    scores = [np.arange(1, n + 1, dtype=float)[None, :] for n in shape]
    contrasts = [np.eye(n)[:-1] for n in shape]
    for name, left, right in (
        ("general", contrasts[0], contrasts[1]),
        ("mean_scores", contrasts[0], scores[1]),
        ("correlation", scores[0], scores[1]),
    ):
        a = np.kron(left, right)
        off, spread = np.zeros(len(a)), np.zeros((len(a), len(a)))
        for table in strata:
            cells = np.array(table, dtype=float)
            n, r, c = cells.sum(), cells.sum(1), cells.sum(0)
            covariance = np.kron(np.diag(r) * n - np.outer(r, r), np.diag(c) * n - np.outer(c, c)) / (n * n * (n - 1))
            off += a @ (cells.ravel() - np.outer(r, c).ravel() / n)
            spread += a @ covariance @ a.T
        statistic = float(off @ np.linalg.pinv(spread, rcond=1e-10) @ off)
        dof = int(np.linalg.matrix_rank(spread, tol=1e-9 * np.abs(spread).max()))
        made[name] = [statistic, dof, float(stats.chi2.sf(statistic, dof))]
    return made


def common(strata: list[list[list[int]]]) -> dict[str, float]:
    """Mantel-Haenszel ratio and difference with their standard errors, in whole numbers up to the root."""
    above = below = spread = weights = gap = slope = start = green = Fraction(0)
    for (a, b), (c, d) in strata:
        n1, n2, n = a + b, c + d, a + b + c + d
        above, below = above + Fraction(a * n2, n), below + Fraction(c * n1, n)
        spread += Fraction(n1 * n2 * (a + c) - a * c * n, n * n)
        weights, gap = weights + Fraction(n1 * n2, n), gap + Fraction(a * n2 - c * n1, n)
        slope += Fraction(n1 * n1 * c - n2 * n2 * a, n * n) + Fraction(n1 * n2 * (n2 - n1), 2 * n * n)
        start += Fraction(a * d + b * c, 2 * n)
        green += Fraction(a * b * n2**3 + c * d * n1**3, n1 * n2 * n * n)
    difference = gap / weights
    return {
        "ratio": float(above / below),
        "ratio_se": math.sqrt(spread / (above * below)),
        "difference": float(difference),
        "difference_se": math.sqrt(difference * slope + start) / float(weights),
        "difference_se_greenland_robins": math.sqrt(green) / float(weights),
    }


def strata() -> list[dict]:
    """60 sets of strata, half of them 2 x 2."""
    found = []
    for at in range(60):
        rows, columns = (2, 2) if at % 2 else RANDOM.choice([(2, 3), (3, 2), (3, 3), (4, 3), (5, 4)])
        case = {"strata": [drawn_table(rows, columns, RANDOM.randint(25, 300)) for _ in range(RANDOM.randint(2, 6))]}
        case |= landis(case["strata"])
        if at % 2:
            peer = StratifiedTable([np.array(table, dtype=float) for table in case["strata"]])
            case |= common(case["strata"])
            case |= {"ratio_statsmodels": float(peer.riskratio_pooled)}
            # Its own P values are 1 less the lower tail and lose their digits.
            for name, adjust in (("breslow_day", False), ("tarone", True)):
                statistic = float(peer.test_equal_odds(adjust).statistic)
                case[f"{name}_p"] = float(stats.chi2.sf(statistic, len(case["strata"]) - 1))
        found.append(case)
    return found


def clean(value):
    """Numbers that JSON cannot hold become text."""
    if isinstance(value, dict):
        return {name: clean(part) for name, part in value.items()}
    if isinstance(value, list):
        return [clean(part) for part in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


if __name__ == "__main__":
    version = subprocess.run(["R", "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    record = {
        "made_by": "tests/reference/make/counts_peers.py with "
        f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, mpmath {mp.__version__}, {version}",
        "two_by_two": two_by_two(),
        "pairs": pairs(),
        "adjusted": adjusted(),
        "ordered": ordered(),
        "strata": strata(),
    }
    text = json.dumps(clean(record), indent=0).replace("\n", " ").replace("}, {", "},\n{")
    (HERE.parent / "values" / "counts_peers.json").write_text(text + "\n", encoding="utf-8")
