"""Makes values/tables.json: tests of generated tables, trends and strata at 17 digits.

Needs: pip install scipy statsmodels, and R (tables.R beside this file). Run: python tests/reference/make/tables.py

Routes: R 4.2 fisher.test (network algorithm), prop.trend.test and mantelhaen.test; scipy chi2_contingency; statsmodels
StratifiedTable for the Robins-Breslow-Greenland interval, Breslow-Day and Tarone; and, as the referee where a peer
stops at its own tolerance, exact fractions: every table with the given margins is listed, or the law of a sum is
convolved, in whole numbers of Python. The two-sided rule everywhere: probabilities not above the observed one.
Known differences: R's exact limits stop at the tolerance of its root finder, so the limits to compare with are made
from the convolution by bisection; R's corrected statistic drops the correction when the difference is below 1/2,
where ours is 0, so such cases hold 0 and P = 1.
"""

from __future__ import annotations

import json
import math
import random
import subprocess
from fractions import Fraction
from functools import partial
from pathlib import Path

import numpy as np
import scipy
import statsmodels
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable

HERE = Path(__file__).parent
RANDOM = random.Random(20261125)
MOST_LISTED = 400_000


def drawn_table(rows: int, columns: int, total: int, strength: float) -> list[list[int]]:
    """A random table without empty rows or columns."""
    while True:
        weights = [[RANDOM.random() + strength * (i % columns == j) for j in range(columns)] for i in range(rows)]
        table = [[0] * columns for _ in range(rows)]
        cells = [(i, j) for i in range(rows) for j in range(columns)]
        for i, j in RANDOM.choices(cells, [weights[i][j] for i, j in cells], k=total):
            table[i][j] += 1
        if all(map(sum, table)) and all(sum(row[j] for row in table) for j in range(columns)):
            return table


def freeman_halton(table: list[list[int]]) -> float | None:
    """P by listing: for each row all ways to fill it, tables counted by their exact weight. None when too many."""
    rows = [sum(row) for row in table]
    columns = tuple(sum(row[j] for row in table) for j in range(len(table[0])))
    steps = 0

    def ways(total: int, room: tuple[int, ...]) -> list[tuple[tuple[int, ...], int]]:
        if not room:
            return [((), 1)] if total == 0 else []
        found = []
        for count in range(min(total, room[0]) + 1):
            for rest, product in ways(total - count, room[1:]):
                found.append(((room[0] - count, *rest), product * math.factorial(count)))
        return found

    # state: columns left -> {product of factorials: number of tables}
    states: dict[tuple[int, ...], dict[int, int]] = {columns: {1: 1}}
    for total in rows:
        following: dict[tuple[int, ...], dict[int, int]] = {}
        for left, products in states.items():
            for rest, product in ways(total, left):
                target = following.setdefault(rest, {})
                steps += len(products)
                if steps > MOST_LISTED:
                    return None
                for so_far, number in products.items():
                    target[so_far * product] = target.get(so_far * product, 0) + number
        states = following
    (products,) = states.values()
    observed = math.prod(math.factorial(count) for row in table for count in row)
    light = sum(Fraction(number, product) for product, number in products.items() if product >= observed)
    everything = sum(Fraction(number, product) for product, number in products.items())
    return float(light / everything)


def law_of_trend(rooted: list[int], stuck: list[int], scores: list[int]) -> dict[int, int]:
    """Ways to reach each score sum with the given total rooted."""
    states = {(0, 0): 1}
    for n, score in zip(stuck, scores, strict=True):
        following: dict[tuple[int, int], int] = {}
        for (used, total), number in states.items():
            for k in range(n + 1):
                key = (used + k, total + k * score)
                if key[0] <= sum(rooted):
                    following[key] = following.get(key, 0) + number * math.comb(n, k)
        states = following
    return {total: number for (used, total), number in states.items() if used == sum(rooted)}


def exact_trend(rooted: list[int], stuck: list[int], scores: list[int]) -> dict[str, float]:
    """Tails and three two-sided P values as fractions."""
    law = law_of_trend(rooted, stuck, scores)
    everything = sum(law.values())
    observed = sum(k * s for k, s in zip(rooted, scores, strict=True))
    mean = Fraction(sum(n * s for n, s in zip(stuck, scores, strict=True)) * sum(rooted), sum(stuck))

    def share(keep) -> Fraction:
        return Fraction(sum(number for total, number in law.items() if keep(total, number)), everything)

    less, greater = share(lambda t, _: t <= observed), share(lambda t, _: t >= observed)
    return {
        "less": float(less),
        "greater": float(greater),
        "probability": float(share(lambda t, _: t == observed)),
        "p": float(share(lambda _, number: number <= law[observed])),
        "doubled": float(min(Fraction(1), 2 * min(less, greater))),
        "by_distance": float(share(lambda t, _: abs(t - mean) >= abs(observed - mean))),
    }


def law_of_sum(strata: list[list[list[int]]]) -> tuple[dict[int, int], int]:
    """Ways to reach each sum of first cells given all margins, and the observed sum."""
    law = {0: 1}
    for (a, b), (c, d) in strata:
        following: dict[int, int] = {}
        for k in range(max(0, a + c - c - d), min(a + b, a + c) + 1):
            ways = math.comb(a + b, k) * math.comb(c + d, a + c - k)
            for total, number in law.items():
                following[total + k] = following.get(total + k, 0) + number * ways
        law = following
    return law, sum(table[0][0] for table in strata)


def exact_sum(strata: list[list[list[int]]]) -> dict[str, float]:
    """P values as fractions; limits of the common odds ratio by bisection on its logarithm, sums exactly rounded."""
    law, observed = law_of_sum(strata)
    everything = sum(law.values())

    def share(keep) -> float:
        return float(Fraction(sum(n for t, n in law.items() if keep(t, n)), everything))

    logs = [(t, math.log(n)) for t, n in sorted(law.items())]

    def tail(tilt: float, side: int, weight: float) -> float:
        terms = [(t, v + (t - observed) * tilt) for t, v in logs]
        top = max(v for _, v in terms)
        masses = [(t, math.exp(v - top)) for t, v in terms]
        kept = [m for t, m in masses if (t - observed) * side > 0] + [weight * m for t, m in masses if t == observed]
        return math.fsum(kept) / math.fsum(m for _, m in masses)

    def mean(tilt: float) -> float:
        terms = [(t, v + (t - observed) * tilt) for t, v in logs]
        top = max(v for _, v in terms)
        masses = [(t, math.exp(v - top)) for t, v in terms]
        return math.fsum(t * m for t, m in masses) / math.fsum(m for _, m in masses)

    def root(rising, target: float) -> float:
        low, high = -60.0, 60.0
        while high - low > 1e-15 * max(1.0, abs(low)):
            middle = (low + high) / 2
            if middle in (low, high):
                break
            low, high = (middle, high) if rising(middle) < target else (low, middle)
        return math.exp((low + high) / 2)

    least, most = min(law), max(law)
    limits = {}
    for name, weight in (("exact", 1.0), ("mid_p", 0.5)):
        low = 0.0 if observed == least else root(partial(tail, side=1, weight=weight), 0.025)
        high = math.inf if observed == most else root(lambda t, w=weight: -tail(t, -1, w), -0.025)
        limits[f"{name}_limits"] = [low, high]
    value = 0.0 if observed == least else math.inf if observed == most else root(mean, observed)
    return {
        "p": share(lambda _, n: n <= law[observed]),
        "less": share(lambda t, _: t <= observed),
        "greater": share(lambda t, _: t >= observed),
        "probability": share(lambda t, _: t == observed),
        "odds_ratio": value,
        **limits,
    }


def asked_of_r(lines: list[str]) -> list[list[float]]:
    """One line of numbers for each line asked."""
    done = subprocess.run(
        ["Rscript", str(HERE / "tables.R")], input="\n".join(lines) + "\n", capture_output=True, text=True, check=True
    )
    return [[float(x) if x != "NA" else math.nan for x in line.split(";")] for line in done.stdout.splitlines()]


def flat(table: list[list[int]]) -> list[int]:
    """Row by row."""
    return [count for row in table for count in row]


def joined(numbers: list[int] | list[float]) -> str:
    """With commas."""
    return ",".join(map(str, numbers))


def tables() -> list[dict]:
    """120 tables to 6 x 5, sparse ones with zeros among them."""
    found = []
    for at in range(120):
        rows, columns = RANDOM.randint(2, 6), RANDOM.randint(2, 5)
        total = RANDOM.randint(
            rows * columns // 2 + 6, 28 if rows * columns > 12 else 60 if rows * columns > 6 else 160
        )
        found.append({"table": drawn_table(rows, columns, total, [0, 0.5, 2, 6][at % 4])})
    answers = asked_of_r([f"table;{len(c['table'])},{len(c['table'][0])};{joined(flat(c['table']))}" for c in found])
    for case, (p, chi, chi_p) in zip(found, answers, strict=True):
        listed = freeman_halton(case["table"])
        other = stats.chi2_contingency(np.array(case["table"]), correction=False, lambda_="log-likelihood")
        case |= {"r_exact": p, "listed": listed, "pearson": chi, "pearson_p": chi_p}
        case |= {"likelihood_ratio": float(other.statistic), "likelihood_ratio_p": float(other.pvalue)}
    return found


def trends() -> list[dict]:
    """60 sets of ordered groups, whole scores."""
    found = []
    while len(found) < 60:
        groups = RANDOM.randint(2, 6)
        stuck = [RANDOM.randint(3, 40) for _ in range(groups)]
        slope = RANDOM.choice([0, 0.5, 1.5])
        rooted = [
            sum(RANDOM.random() < 1 / (1 + math.exp(1 - slope * i)) for _ in range(n)) for i, n in enumerate(stuck)
        ]
        scores = sorted(RANDOM.sample(range(12), groups))
        if 0 < sum(rooted) < sum(stuck):
            found.append({"rooted": rooted, "stuck": stuck, "scores": scores})
    lines = [f"trend;{len(c['stuck'])};{joined(c['rooted'] + c['stuck'] + c['scores'])}" for c in found]
    for case, (chi, p) in zip(found, asked_of_r(lines), strict=True):
        case |= {"chi": chi, "p": p, "exact": exact_trend(case["rooted"], case["stuck"], case["scores"])}
    return found


def strata() -> list[dict]:
    """60 sets of 2 x 2 strata (some without information) and 30 of larger tables."""
    found = []
    while len(found) < 60:
        tables = []
        for _ in range(RANDOM.randint(1, 6)):
            first, second = RANDOM.randint(1, 25), RANDOM.randint(1, 25)
            rate = RANDOM.random()
            better = min(0.98, rate * RANDOM.choice([1, 1.4, 2]))
            a = sum(RANDOM.random() < better for _ in range(first))
            c = sum(RANDOM.random() < rate for _ in range(second))
            tables.append([[a, first - a], [c, second - c]])
        informative = [t for t in tables if 0 < t[0][0] + t[1][0] < sum(flat(t))]
        up = sum(t[0][0] * t[1][1] for t in informative)
        down = sum(t[0][1] * t[1][0] for t in informative)
        if len(informative) >= 2 and up and down:
            found.append({"strata": tables, "informative": len(informative)})
    for _ in range(30):
        rows, columns = RANDOM.choice([(2, 3), (3, 2), (3, 3), (4, 3), (3, 4)])
        found.append(
            {"strata": [drawn_table(rows, columns, RANDOM.randint(20, 60), 0.5) for _ in range(RANDOM.randint(2, 4))]}
        )
    lines = []
    for case in found:
        shape = (len(case["strata"][0]), len(case["strata"][0][0]), len(case["strata"]))
        lines.append(f"strata;{joined(list(shape))};{joined([n for t in case['strata'] for n in flat(t)])}")
    for case, answer in zip(found, asked_of_r(lines), strict=True):
        if len(answer) == 3:
            case["general"] = answer
            continue
        case["plain"], case["corrected"], case["odds_ratio"] = answer[:2], answer[2:4], answer[4]
        case["odds_ratio_limits"], case["r_exact_p"], case["r_exact_limits"] = answer[5:7], answer[7], answer[9:11]
        off = sum(t[0][0] - Fraction(sum(t[0]) * (t[0][0] + t[1][0]), sum(flat(t))) for t in case["strata"])
        if abs(off) < Fraction(1, 2):
            case["corrected"] = [0.0, 1.0]
        kept = [t for t in case["strata"] if 0 < t[0][0] + t[1][0] < sum(flat(t))]
        peer = StratifiedTable([np.array(t, dtype=float) for t in kept])
        case["breslow_day"] = float(peer.test_equal_odds(together=False).statistic)
        case["tarone"] = float(peer.test_equal_odds(together=True).statistic)
        case["log_odds_se"] = float(peer.logodds_pooled_se)
        case["exact"] = exact_sum(case["strata"])
    return found


def clean(value):
    """Numbers that JSON cannot hold become text."""
    if isinstance(value, dict):
        return {name: clean(part) for name, part in value.items()}
    if isinstance(value, list):
        return [clean(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


if __name__ == "__main__":
    version = subprocess.run(["R", "--version"], capture_output=True, text=True, check=True).stdout.splitlines()[0]
    made = {
        "made_by": "tests/reference/make/tables.py with "
        f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, {version}",
        "tables": tables(),
        "trends": trends(),
        "strata": strata(),
    }
    text = json.dumps(clean(made), indent=0).replace("\n", " ").replace("}, {", "},\n{")
    (HERE.parent / "values" / "tables.json").write_text(text + "\n", encoding="utf-8")
