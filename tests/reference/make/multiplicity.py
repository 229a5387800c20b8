"""Makes values/multiplicity.json: studentised range and many-to-one distributions at 17 digits.

Needs: pip install scipy python-flint. Run: python tests/reference/make/multiplicity.py

The referee is ball arithmetic of 120 bits (python-flint): Gauss-Legendre panels in ln s and z, a route that does not
share the rule with the Rust code. Every value is computed twice, with panels of different width; both must agree to 13
digits. scipy (studentized_range; multivariate_t and multivariate_normal for many-to-one) is the second witness; its
worst absolute differences are kept in the file.
"""

import json
import math
from functools import cache, lru_cache
from pathlib import Path

import flint
import numpy as np
import scipy
from flint import arb, ctx
from scipy import stats

ctx.prec = 120
NODES = 16
ROOT_2 = arb(2).sqrt()
ROOT_TAU = (2 * arb.pi()).sqrt()


@cache
def legendre():
    return [arb.legendre_p_root(NODES, k, True) for k in range(NODES)]


@lru_cache(maxsize=32)
def panels(low, high, width):
    """Nodes and weights of Gauss-Legendre panels between two floats."""
    count = max(1, math.ceil((high - low) / width))
    half = (arb(high) - arb(low)) / count / 2
    return [(low + half * (2 * j + 1) + half * x, half * w) for j in range(count) for x, w in legendre()]


def upper(x):
    return (x / ROOT_2).erfc() / 2


def phi(x):
    return (-x * x / 2).exp() / ROOT_TAU


@lru_cache(maxsize=64)
def z_nodes(low, high, width):
    return [(z, w * phi(z), upper(z)) for z, w in panels(low, high, width)]


def power(x, n):
    """x^n by squaring: a ball that holds 0 has no logarithm."""
    result = arb(1)
    while n:
        if n & 1:
            result *= x
        x *= x
        n >>= 1
    return result


def range_sf(w, k, width):
    """P(W > w) for k unit normals."""
    total = arb(0)
    f = float(w)
    for z, weight, above in z_nodes(-math.ceil(math.sqrt(f * f / 2 + 84)), math.ceil(7 - f / 2), width):
        total += weight * (power(above, k - 1) - power(above - upper(z + w), k - 1))
    return k * total


def range_cdf(w, k, width):
    total = arb(0)
    for z, weight, above in z_nodes(-9.5, 9.5, width):
        total += weight * power(above - upper(z + w), k - 1)
    return k * total


def dunnett_tail(w, lambdas, sides, width, lower):
    """P(some (l Z0 + sqrt(1 - l^2) Zi) beyond w), or its complement, given Z0 by panels."""
    total = arb(0)
    edge = math.ceil(9.5 + float(w) * max(map(float, lambdas)))
    own = [(1 - lam * lam).sqrt() for lam in lambdas]
    low = 0 if sides == 2 else -10
    for z, weight, _ in z_nodes(low, edge, width):
        inside = arb(1)
        seen = {}
        for lam, t in zip(lambdas, own, strict=True):
            key = float(lam)
            if key not in seen:
                beyond = upper((w - lam * z) / t)
                if sides == 2:
                    beyond += upper((w + lam * z) / t)
                seen[key] = 1 - beyond
            inside *= seen[key]
        total += weight * (inside if lower else 1 - inside)
    return total * sides


def over_scale(h, q, dof, refine):
    """E h(q S): panels in ln s about the largest value of the integrand."""
    if dof == math.inf:
        return h(arb(q))
    nu = arb(dof)
    constant = arb(2).log() + nu / 2 * (nu / 2).log() - (nu / 2).lgamma()

    def f(t):
        s = t.exp()
        return (constant + nu * t - nu * s * s / 2).exp() * h(q * s)

    # Where the integrand matters, by a coarse look; panels as wide as the scale varies, wider in the plain left tail.
    spread = 1 / math.sqrt(2 * dof)
    grid = [j * min(spread, 0.4) * 1.6 for j in range(-30, 7)]
    values = [float(f(arb(t))) for t in grid]
    most = max(values)
    kept = [t for t, v in zip(grid, values, strict=True) if v > most * 1e-19]
    low, high = kept[0] - 1.6 * spread, kept[-1] + 1.6 * spread
    edge = max(low, grid[values.index(most)] - 5 * spread)
    if dof < 20:
        low = min(low, edge - 40 / dof)
    unit = min(1.5 * spread, 0.4) / refine
    nodes = panels(low, edge, 3 * unit) if edge > low else []
    return sum((w * f(t) for t, w in nodes + panels(edge, high, unit)), arb(0))


RANGE = [
    (2, [(0.1, 1), (40.0, 1), (12.0, 30)]),
    (3, [(1.0, 1), (27.0, 1), (500.0, 1), (3.877, 10), (9.0, 5.5), (20.0, 12), (3.31, math.inf), (14.0, math.inf)]),
    (
        8,
        [(1.5, 4), (4.77, 20), (12.0, 20), (45.0, 1), (4.29, math.inf), (9.0, 1e4), (4.3, 1e6), (6.0, 7.9), (6.0, 8.1)],
    ),
    (20, [(2.0, 3), (5.0, 60), (11.0, 40)]),
    (200, [(4.0, 2), (6.4, math.inf), (7.0, 100), (15.0, 25)]),
]
EQUAL = [math.sqrt(0.5)]
MANY = [
    ([EQUAL[0]] * 2, [(0.4, 3), (9.0, 20)]),
    ([EQUAL[0]] * 5, [(2.68, 5.0), (2.23, math.inf), (60.0, 1)]),
    ([0.3, 0.6, 0.9], [(2.0, 7.5), (5.0, 30), (1.0, math.inf)]),
    ([0.99, 0.97, 0.5, 0.1], [(2.4, 12)]),
    ([EQUAL[0]] * 20, [(3.0, 60)]),
    ([0.95] * 50, [(0.7, math.inf)]),
]


def twice(compute):
    first, second = compute(1.0), compute(0.8)
    gap = abs(float(first / second - 1))
    assert gap < 1e-13, (first, second, gap)
    return second


def range_value(what, q, k, dof):
    h = range_sf if what == "sf" else range_cdf
    width = 0.6 if k > 20 else 1.5
    return twice(lambda r: over_scale(lambda w: h(w, k, width * r), q, dof, 1 / r))


def many_value(at):
    exact = [arb(v) for v in at["lambdas"]]
    closest = min(math.sqrt(1 - v * v) for v in at["lambdas"])
    width = min(1.5, 2 * closest) / (1 + 0.3 * math.log(len(exact)))
    lower = at["what"] == "cdf"

    def h(w, width):
        return dunnett_tail(w, exact, at["sides"], width, lower)

    return twice(lambda r: over_scale(lambda w: h(w, width * r), at["q"], at["df"], 1 / r))


def rows():
    for k, points in RANGE:
        for q, dof in points:
            q, dof = float(q), float(dof)
            for what in ("sf", "cdf"):
                other = getattr(stats.studentized_range, what)(q, k, dof)
                at = {"family": "studentized_range", "what": what, "q": q, "groups": k, "df": dof}
                yield at, range_value(what, q, k, dof), other
    for lambdas, points in MANY:
        for q, dof in points:
            for sides in (1, 2):
                for what in ("sf", "cdf"):
                    at = {"family": "dunnett", "what": what, "q": float(q), "lambdas": lambdas, "sides": sides}
                    at["df"] = float(dof)
                    yield at, many_value(at), witness(at) if what == "cdf" else None


def witness(at):
    """scipy's quasi-random value, good to about 1e-4."""
    lam = np.array(at["lambdas"])
    r = np.outer(lam, lam)
    np.fill_diagonal(r, 1.0)
    high = np.full(len(lam), at["q"])
    low = -high if at["sides"] == 2 else np.full(len(lam), -np.inf)
    if at["df"] == math.inf:
        return stats.multivariate_normal.cdf(high, cov=r, lower_limit=low, rng=1)
    return stats.multivariate_t.cdf(high, shape=r, df=at["df"], lower_limit=low, random_state=1)


def main():
    entries, worst = [], {}
    for at, want, other in rows():
        key = at["family"] + "::" + at["what"]
        if other is not None and float(want):
            worst[key] = max(worst.get(key, 0.0), abs(float(other) - float(want)))
        if at["df"] == math.inf:
            at["df"] = "inf"
        entries.append({**at, "want": float(want.mid())})
        print(entries[-1], other, flush=True)
        write(entries, worst)


def write(entries, worst):
    made_with = f"python-flint {flint.__version__} ({ctx.prec} bits), scipy {scipy.__version__}"
    head = json.dumps({"made_with": made_with, "scipy_worst_absolute": worst}, indent=1)[:-2]
    body = ",\n".join(json.dumps(entry) for entry in entries)
    target = Path(__file__).parents[1].joinpath("values", "multiplicity.json")
    target.write_text(head + ',\n "entries": [\n' + body + "\n]}\n")


if __name__ == "__main__":
    main()
