"""Makes values/effective_strata.json: two arms of trays in blocks, by the stratified score on effective counts.

Needs: pip install numpy scipy. Run: python tests/reference/make/effective_strata.py

A second route to what src/rates/clustered.rs and src/compare/effective_strata.rs do: the additive fit by least
squares on indicator columns (numpy pinv), the rates of largest likelihood under a fixed difference, ratio or odds
ratio by numerical maximisation along the constraint (scipy minimize_scalar), limits by scipy brentq on the statistic.
"""

import json
import math
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize, stats

# Invented trays: (treatment, block, rooted, stuck). Unequal sizes, one treatment beside the two compared.
TRAYS = [
    (0, 0, 4, 20), (0, 0, 11, 18), (0, 1, 9, 20), (0, 1, 1, 15), (0, 2, 3, 20), (0, 3, 7, 22),
    (1, 0, 9, 20), (1, 1, 19, 20), (1, 1, 7, 16), (1, 2, 8, 20), (1, 2, 6, 12), (1, 3, 12, 20),
    (2, 0, 11, 20), (2, 1, 13, 20), (2, 2, 15, 25), (2, 3, 9, 20),
]  # fmt: skip
LEVEL = 0.95


def spread():
    arm, block = (np.array([t[k] for t in TRAYS]) for k in (0, 1))
    rooted, stuck = (np.array([float(t[k]) for t in TRAYS]) for k in (2, 3))
    rate, root = rooted / stuck, np.sqrt(stuck)
    columns = [arm == a for a in range(3)] + [block == b for b in range(4)]
    x = np.column_stack(columns).astype(float) * root[:, None]
    hat = x @ np.linalg.pinv(x)
    rank = np.linalg.matrix_rank(x)
    off = root * rate - hat @ (root * rate)
    dof = len(TRAYS) - rank
    between = off @ off / dof
    within = np.sum(stuck * rate * (1 - rate)) / (stuck.sum() - len(TRAYS))
    m0 = np.sum(stuck * (1 - np.diag(hat))) / dof
    icc = (between - within) / (between + (m0 - 1) * within)
    events = sum(min(rooted[arm == a].sum(), stuck[arm == a].sum() - rooted[arm == a].sum()) for a in range(3))
    return {"icc": icc, "df": float(dof), "m0": m0, "events": float(events), "floor": 0.05 * 2 / (2 + events)}


def strata(used):
    found = []
    for b in range(4):
        sides = []
        for a in (1, 0):  # second arm first: differences are second minus first
            trays = [t for t in TRAYS if t[0] == a and t[1] == b]
            n = sum(t[3] for t in trays)
            effect = 1 + (sum(t[3] ** 2 for t in trays) / n - 1) * used
            sides.append((sum(t[2] for t in trays) / n, n / effect))
        found.append(sides)
    return found


def loglik(p, rate, n):
    def part(x, q):
        return 0.0 if x == 0 else x * math.log(q)

    return n * (part(rate, p) + part(1 - rate, 1 - p))


def constrained(side, link, low, high):
    (r1, n1), (r2, n2) = side

    def loss(p2):
        return -loglik(link(p2), r1, n1) - loglik(p2, r2, n2)

    p2 = optimize.minimize_scalar(loss, bounds=(low, high), method="bounded", options={"xatol": 1e-14}).x
    slope = lambda p: (loss(p + 1e-6) - loss(p - 1e-6)) / 2e-6  # noqa: E731
    lo, hi = max(low, p2 - 1e-4), min(high, p2 + 1e-4)
    if slope(lo) < 0 < slope(hi):
        p2 = optimize.brentq(slope, lo, hi, xtol=1e-15)
    return link(p2), p2


def statistic(sides, scale, value):
    top = bottom = 0.0
    eps = 1e-9
    for side in sides:
        (r1, n1), (r2, n2) = side
        w, factor = n1 * n2 / (n1 + n2), (n1 + n2) / (n1 + n2 - 1)
        if scale == "difference":
            p1, p2 = constrained(side, lambda p: p + value, max(0, -value) + eps, min(1, 1 - value) - eps)
            u, v = r1 - r2 - value, p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2
        elif scale == "ratio":
            p1, p2 = constrained(side, lambda p: p * value, eps, min(1, 1 / value) - eps)
            u, v = r1 - value * r2, p1 * (1 - p1) / n1 + value**2 * p2 * (1 - p2) / n2
        else:
            p1, p2 = constrained(side, lambda p: value * p / (1 - p + value * p), eps, 1 - eps)
            u = r1 * (1 - r2) - value * r2 * (1 - r1)
            v = (1 - p2 + value * p2) ** 2 * p1 * (1 - p1) / n1 + (p1 + value * (1 - p1)) ** 2 * p2 * (1 - p2) / n2
        top += w * u
        bottom += w * w * v * factor
    return top / math.sqrt(bottom)


def limit(sides, scale, target, span):
    return optimize.brentq(lambda x: statistic(sides, scale, x) - target, *span, xtol=1e-13)


def main():
    values = spread()
    sides = strata(max(values["icc"], values["floor"]))
    critical = stats.t.ppf((1 + LEVEL) / 2, values["df"])
    t = statistic(sides, "difference", 0.0)
    weight = [a[1] * b[1] / (a[1] + b[1]) for a, b in sides]
    values["difference"] = sum(w * (a[0] - b[0]) for w, (a, b) in zip(weight, sides, strict=True)) / sum(weight)
    values["t"], values["p"] = t, 2 * stats.t.sf(abs(t), values["df"])
    for scale, spans in {
        "difference": ((-0.9, values["difference"]), (values["difference"], 0.9)),
        "ratio": ((0.2, 1.5), (1.6, 8.0)),
        "odds_ratio": ((0.2, 2.0), (2.6, 30.0)),
    }.items():
        values[f"{scale}_limits"] = [
            limit(sides, scale, target, span) for target, span in zip((critical, -critical), spans, strict=True)
        ]
    made = {"made_with": f"numpy {np.__version__}, scipy {scipy.__version__}", "level": LEVEL}
    made["trays"] = [list(tray) for tray in TRAYS]
    made["values"] = values
    path = Path(__file__).parent.parent / "values" / "effective_strata.json"
    path.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(values, indent=1))


if __name__ == "__main__":
    main()
