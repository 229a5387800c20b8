"""Makes values/exact_difference.json: exact unconditional limits and P values of a difference by brute force.

Needs: pip install numpy scipy. Run: python tests/reference/make/exact_difference.py

Definition (Chan & Zhang 1999, Biometrics 55:1202-1209): tables are ordered by the score statistic under the
difference; the lower limit is the smallest difference at which the largest probability, over the unknown rate, of a
statistic at least as high as observed is above 0.025. Every table is compared on its own, the whole range of
differences is scanned in steps of 0.001, and the first crossing is halved to 1e-12; the rate is scanned in 600 steps
and every peak refined.
"""

import json
import random
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize, stats

TAIL = 0.025


def scores(n1, n2, delta):
    """Score statistic of every table, by bisection of the derivative of the likelihood for the constrained rate."""
    x1, x2 = np.meshgrid(np.arange(n1 + 1.0), np.arange(n2 + 1.0), indexing="ij")
    low = np.full(x1.shape, max(0.0, -delta))
    high = np.full(x1.shape, min(1.0, 1.0 - delta))
    for _ in range(70):
        p2 = 0.5 * (low + high)
        p1 = p2 + delta
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (x1 - n1 * p1) / (p1 * (1 - p1)) + (x2 - n2 * p2) / (p2 * (1 - p2))
        up = slope > 0
        low, high = np.where(up, p2, low), np.where(up, high, p2)
    p2 = 0.5 * (low + high)
    p1 = p2 + delta
    variance = np.clip(p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2, 0, None)
    off = x1 / n1 - x2 / n2 - delta
    # as a bounded share, so that a variance of 0 is no special case
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.sign(off) * off**2 / (off**2 + variance)
    return np.where(np.abs(off) < 1e-15, 0.0, share)


def p_value(x1, n1, x2, n2, delta, refine=True):
    """Largest probability of a score at least as high as observed."""
    share = scores(n1, n2, delta)
    own = share[x1, x2]
    region = (share >= own - 1e-9 * min(abs(own), 1 - abs(own)) - 1e-13).astype(float)
    low, high = max(0.0, -delta), min(1.0, 1.0 - delta)
    first, second = np.arange(n1 + 1), np.arange(n2 + 1)

    def probability(angle):
        p2 = low + (high - low) * np.sin(np.atleast_1d(angle) / 2) ** 2
        p1 = np.clip(p2 + delta, 0, 1)
        one, two = stats.binom.pmf(first[None], n1, p1[:, None]), stats.binom.pmf(second[None], n2, p2[:, None])
        return np.einsum("ka,ab,kb->k", one, region, two)

    grid = np.linspace(0, np.pi, 601)
    values = probability(grid)
    best = values.max()
    if not refine:
        return best
    for i in range(len(grid)):
        left, right = values[max(i - 1, 0)], values[min(i + 1, len(grid) - 1)]
        if values[i] >= max(left, right) and values[i] > 0.98 * best:
            bounds = (grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)])
            found = optimize.minimize_scalar(
                lambda a: -probability(a)[0], bounds=bounds, method="bounded", options={"xatol": 1e-9}
            )
            best = max(best, -found.fun)
    return min(1.0, best)


def lower(x1, n1, x2, n2):
    value = x1 / n1 - x2 / n2
    if value == -1:
        return -1.0
    before = -1.0
    for delta in np.arange(-0.999, value, 0.001):
        rough = p_value(x1, n1, x2, n2, delta, refine=False)
        if rough > TAIL or (rough > 0.98 * TAIL and p_value(x1, n1, x2, n2, delta) > TAIL):
            break
        before = delta
    else:
        delta = value
    while delta - before > 1e-12:
        middle = (before + delta) / 2
        if p_value(x1, n1, x2, n2, middle) > TAIL:
            delta = middle
        else:
            before = middle
    return float(delta)


def main():
    chosen = random.Random(7)
    pairs = [(7, 34, 1, 34), (0, 10, 0, 12), (10, 10, 0, 10), (8, 10, 1, 6), (1, 1, 0, 1), (5, 5, 5, 5), (3, 4, 9, 11)]
    while len(pairs) < 22:
        n1, n2 = chosen.randint(2, 16), chosen.randint(2, 16)
        pairs.append((chosen.randint(0, n1), n1, chosen.randint(0, n2), n2))
    cases = []
    for x1, n1, x2, n2 in pairs:
        limits = [lower(x1, n1, x2, n2), -lower(x2, n2, x1, n1)]
        margins = {str(m): p_value(x1, n1, x2, n2, -m) for m in (0.05, 0.1, 0.2)}
        cases.append({"counts": [x1, n1, x2, n2], "limits": limits, "p_not_worse": margins})
        print(cases[-1], flush=True)
    source = f"brute force with numpy {np.__version__}, scipy {scipy.__version__}"
    path = Path(__file__).resolve().parents[1] / "values" / "exact_difference.json"
    path.write_text(json.dumps({"source": source, "cases": cases}, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
