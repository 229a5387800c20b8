"""Makes values/two_rates.json: 366 generated pairs of counts with P values and intervals at 17 digits.

Needs: pip install scipy statsmodels mpmath gmpy2. Run: python tests/reference/make/two_rates.py

The referee is mpmath at 40 digits, from the definitions: hypergeometric and binomial terms as products of whole
numbers, tails as sums of their own terms, quantiles and limits as roots of the defining equation. Second route: scipy
and statsmodels where they share the definition; the worst relative differences are kept in the file with the reason
where a definition differs:

- statsmodels' score interval of a difference is not that of Miettinen and Nurminen, and it fails with zeros: not
  compared;
- scipy's two-sided Barnard and Boschloo tests lose exact ties of mirror tables to rounding and look at a fixed
  number of rates: the unconditional tests are made here by brute force over all tables (ties in whole numbers) and over
  a fine grid of rates, every peak of which is refined at 40 digits.
"""

import json
import random
import warnings
from fractions import Fraction
from math import comb
from pathlib import Path

import mpmath as mp
import numpy as np
import scipy
import statsmodels
from scipy import stats
from statsmodels.stats import proportion as sm

mp.mp.dps = 40
Z = mp.sqrt(2) * mp.erfinv(mp.mpf("0.95"))
SLACK = mp.mpf("1e-7")
NEGLIGIBLE = mp.mpf("1e-34")


def pairs():
    """Tiny to 10^6, with zeros and full groups, and a few far in the tail."""
    chosen = random.Random(20261125)
    found = [(0, 10, 0, 20), (10, 10, 0, 10), (20, 20, 14, 20), (8, 10, 1, 6), (1, 1, 0, 1), (500, 500, 0, 500)]
    for size in (4, 8, 15, 40, 100, 400, 2000, 20_000, 200_000, 1_000_000):
        for k in range(36):
            n1, n2 = chosen.randint(max(1, size // 3), size), chosen.randint(max(1, size // 3), size)
            p1 = chosen.choice([0.0, 1.0, chosen.random(), chosen.random(), chosen.random() ** 3])
            near = min(1.0, max(0.0, p1 + chosen.gauss(0, 2.5) * 0.7 / n2**0.5))
            p2 = near if k % 5 else chosen.random()
            found.append((round(p1 * n1), n1, round(p2 * n2), n2))
    return found


def terms(x, n1, n2, s, down):
    """Hypergeometric terms over that at x, from x on in one direction, until they no longer count."""
    low, high = max(0, s - n2), min(s, n1)
    term = mp.mpf(1)
    while low <= x <= high:
        yield x, term
        if down:
            term = term * x * (n2 - s + x) / (mp.mpf(n1 - x + 1) * (s - x + 1))
            x -= 1
        else:
            term = term * (n1 - x) * (s - x) / (mp.mpf(x + 1) * (n2 - s + x + 1))
            x += 1


def ln_ways(x, n1, n2, s):
    ln_comb = lambda n, k: mp.loggamma(n + 1) - mp.loggamma(k + 1) - mp.loggamma(n - k + 1)  # noqa: E731
    return ln_comb(n1, x) + ln_comb(n2, s - x) - ln_comb(n1 + n2, s)


def tail(x, n1, n2, s, down):
    """P(X <= x) or P(X >= x)."""
    low, high = max(0, s - n2), min(s, n1)
    if x < low or x > high:
        return mp.mpf(0 if (x < low) == down else 1)
    mode = (s + 1) * (n1 + 1) // (n1 + n2 + 2)
    if (x > mode and down) or (x < mode and not down):
        return 1 - tail(x + 1 if down else x - 1, n1, n2, s, not down)
    total = mp.mpf(0)
    for _, term in terms(x, n1, n2, s, down):
        total += term
        if term < NEGLIGIBLE * total:
            break
    return mp.exp(ln_ways(x, n1, n2, s)) * total


def boundary(holds, inside, outside):
    """The place nearest to `inside` at which `holds`; it stays true outwards."""
    while abs(outside - inside) > 1:
        middle = (inside + outside) // 2
        if holds(middle):
            outside = middle
        else:
            inside = middle
    return outside


def fisher(x1, n1, x2, n2):
    s = x1 + x2
    low, high = max(0, s - n2), min(s, n1)
    less, greater = tail(x1, n1, n2, s, True), tail(x1, n1, n2, s, False)
    point = mp.exp(ln_ways(x1, n1, n2, s))
    mode = min(max((s + 1) * (n1 + 1) // (n1 + n2 + 2), low), high)
    limit = ln_ways(x1, n1, n2, s) + mp.log(1 + SLACK)
    two_sided = mp.mpf(1)
    if limit < ln_ways(mode, n1, n2, s):
        light = lambda k: ln_ways(k, n1, n2, s) <= limit  # noqa: E731
        lower = x1 if x1 < mode else boundary(light, mode, low - 1)
        upper = x1 if x1 > mode else boundary(light, mode, high + 1)
        two_sided = tail(lower, n1, n2, s, True) + tail(upper, n1, n2, s, False)
    own = min(less, greater)
    other = mp.mpf(0)
    if greater <= less:
        k = boundary(lambda k: tail(k, n1, n2, s, True) <= own * (1 + SLACK), x1, low - 1)
        other = tail(k, n1, n2, s, True)
    else:
        k = boundary(lambda k: tail(k, n1, n2, s, False) <= own * (1 + SLACK), x1, high + 1)
        other = tail(k, n1, n2, s, False)
    return {
        "less": less, "greater": greater, "two_sided": min(mp.mpf(1), two_sided), "doubled": min(mp.mpf(1), 2 * own),
        "blaker": min(mp.mpf(1), own + other), "mid_p": min(mp.mpf(1), two_sided) - point / 2,
    }  # fmt: skip


def chi_square(x1, n1, x2, n2):
    """Pearson and likelihood ratio, with their P values (1 degree of freedom)."""
    n, s = n1 + n2, x1 + x2
    if s in (0, n):
        return {"pearson": [mp.mpf(0), mp.mpf(1)], "likelihood_ratio": [mp.mpf(0), mp.mpf(1)]}
    pearson = mp.mpf(x1 * n2 - x2 * n1) ** 2 * n / (mp.mpf(n1) * n2 * s * (n - s))
    ratio = mp.mpf(0)
    for count, row, column in ((x1, n1, s), (n1 - x1, n1, n - s), (x2, n2, s), (n2 - x2, n2, n - s)):
        if count:
            ratio += 2 * count * mp.log(mp.mpf(count) * n / (mp.mpf(row) * column))
    sf = lambda q: mp.erfc(mp.sqrt(abs(q) / 2))  # noqa: E731
    return {"pearson": [pearson, sf(pearson)], "likelihood_ratio": [abs(ratio), sf(ratio)]}


def root(f, low, high, steps=150):
    """A root of a monotone f by regula falsi with halving (Illinois), else by halving."""
    low, high = mp.mpf(low), mp.mpf(high)
    a, b = f(low), f(high)
    if a == 0 or b == 0:
        return low if a == 0 else high
    assert (a > 0) != (b > 0), (low, high, a, b)
    for step in range(steps):
        middle = (low * b - high * a) / (b - a) if step % 3 else (low + high) / 2
        c = f(middle)
        if c == 0 or high - low < mp.mpf("1e-22") * max(mp.mpf("1e-3"), abs(middle)):
            return middle
        if (c > 0) == (a > 0):
            low, a = middle, c
        else:
            high, b = middle, c
    return (low + high) / 2


def constrained(x1, n1, x2, n2, delta):
    """Maximum likelihood p2 under p1 = p2 + delta: the middle root of a cubic, by its angle."""
    with mp.workdps(70):
        a = mp.mpf(n1 + n2)
        b = (n1 + 2 * n2) * delta - a - (x1 + x2)
        c = (n2 * delta - a - 2 * x2) * delta + (x1 + x2)
        d = x2 * delta * (1 - delta)
        v = b**3 / (27 * a**3) - b * c / (6 * a * a) + d / (2 * a)
        u = mp.sqrt(max(b * b / (9 * a * a) - c / (3 * a), 0)) * (1 if v > 0 else -1)
        w = (mp.pi + mp.acos(max(-1, min(1, v / u**3)) if u else 0)) / 3
        p2 = 2 * u * mp.cos(w) - b / (3 * a)
        return min(max(p2, mp.mpf(0), -delta), mp.mpf(1), 1 - delta)


def score_difference(x1, n1, x2, n2, factor):
    value = mp.mpf(x1) / n1 - mp.mpf(x2) / n2

    def excess(delta, sign):
        p2 = constrained(x1, n1, x2, n2, delta)
        p1 = p2 + delta
        off = value - delta
        variance = factor * (p1 * (1 - p1) / n1 + p2 * (1 - p2) / n2)
        return off * abs(off) - sign * Z**2 * variance

    # just off the estimate, where the variance may be 0 too
    hair = mp.mpf("1e-25")
    low = mp.mpf(-1) if value == -1 else root(lambda d: excess(d, 1), -1, value - hair)
    high = mp.mpf(1) if value == 1 else root(lambda d: excess(d, -1), value + hair, 1)
    return [low, high]


def wilson(x, n):
    centre, spread = 2 * x + Z**2, Z * mp.sqrt(Z**2 + mp.mpf(4 * x * (n - x)) / n)
    return (centre - spread) / (2 * (n + Z**2)), (centre + spread) / (2 * (n + Z**2))


def newcombe(x1, n1, x2, n2):
    p1, p2 = mp.mpf(x1) / n1, mp.mpf(x2) / n2
    (l1, u1), (l2, u2) = wilson(x1, n1), wilson(x2, n2)
    return [p1 - p2 - mp.hypot(p1 - l1, u2 - p2), p1 - p2 + mp.hypot(u1 - p1, p2 - l2)]


def koopman(x1, n1, x2, n2):
    """Ratios with (x1 - n1 p1)^2 / (n1 p1 (1 - p1)) + its like = z^2, p1 = ratio p2 at its likeliest."""
    n, s = n1 + n2, x1 + x2

    def excess(t):
        ratio = mp.exp(t)
        a, b, c = n * ratio, n1 * ratio + x1 + n2 + x2 * ratio, mp.mpf(s)
        p2 = (b - mp.sqrt(b * b - 4 * a * c)) / (2 * a)
        p1 = ratio * p2
        chi = mp.mpf(0)
        for x, m, p in ((x1, n1, p1), (x2, n2, p2)):
            chi += (x - m * p) ** 2 / (m * p * (1 - p)) if 0 < p < 1 else 0
        return chi - Z**2

    start = mp.log((mp.mpf(x1) + mp.mpf("0.5")) / n1 / ((mp.mpf(x2) + mp.mpf("0.5")) / n2))
    if x1 and x2:
        start = mp.log(mp.mpf(x1) * n2 / (mp.mpf(x2) * n1))
    low = mp.mpf(0) if x1 == 0 else mp.exp(outwards(excess, start, -1))
    high = mp.inf if x2 == 0 else mp.exp(outwards(excess, start, 1))
    return [low, high]


def outwards(excess, start, sign):
    """The nearest root outwards from a start at which the excess is below 0."""
    if excess(start) > 0:  # a start by halves that is not inside: step back
        near, step = start, mp.mpf("0.25")
        while excess(near) > 0:
            near, step = near - sign * step, step * mp.mpf("1.5")
        start = near
    step, near = mp.mpf("0.05"), start
    while excess(near + sign * step) < 0:
        near, step = near + sign * step, step * 2
    far = near + sign * step
    return root(excess, min(near, far), max(near, far))


def odds_score(x1, n1, x2, n2):
    """Cornfield's equation d^2 (1 / V1 + 1 / V2) = z^2 in the number d of cuttings that change over."""

    def moved(a, b, c, d):
        if min(a, d) == 0:
            return mp.mpf(0)

        def excess(k):
            v1, v2 = (a - k) * (b + k) / mp.mpf(a + b), (d - k) * (c + k) / mp.mpf(c + d)
            return k * k * (v1 + v2) - Z**2 * v1 * v2

        k = root(excess, mp.mpf("1e-30"), min(a, d) * (1 - mp.mpf("1e-35")))
        return (a - k) * (d - k) / ((b + k) * (c + k))

    a, b, c, d = x1, n1 - x1, x2, n2 - x2
    low, turned = moved(a, b, c, d), moved(b, a, d, c)
    return [low, 1 / turned if turned else mp.inf]


def odds_exact(x1, n1, x2, n2):
    """Limits at which a tail of the extended hypergeometric distribution is 0.025; small tables only."""
    s = x1 + x2
    low, high = max(0, s - n2), min(s, n1)
    ways = {k: mp.mpf(comb(n1, k) * comb(n2, s - k)) for k in range(low, high + 1)}

    def share(t, keep):
        weights = {k: w * mp.exp(t * (k - x1)) for k, w in ways.items()}
        return sum(w for k, w in weights.items() if keep(k)) / sum(weights.values()) - mp.mpf("0.025")

    start = mp.log(
        (x1 + mp.mpf("0.5")) * (n2 - x2 + mp.mpf("0.5")) / ((n1 - x1 + mp.mpf("0.5")) * (x2 + mp.mpf("0.5")))
    )
    low_or = mp.mpf(0) if x1 == low else mp.exp(root(lambda t: share(t, lambda k: k >= x1), start - 40, start + 20))
    high_or = mp.inf if x1 == high else mp.exp(root(lambda t: share(t, lambda k: k <= x1), start - 20, start + 40))
    return [low_or, high_or]


def score_order(n1, n2, x1, x2):
    """Signed squared score statistic, up to a factor, as a fraction."""
    s, n = x1 + x2, n1 + n2
    off = x1 * n - s * n1
    return Fraction(0) if off == 0 else Fraction(off * abs(off), s * (n - s))


def fisher_order(n1, n2, x1, x2):
    """P(X >= x1), P(X <= x1) and the two-sided P by probability as fractions over the ways of all."""
    s = x1 + x2
    low, high = max(0, s - n2), min(s, n1)
    ways = {k: comb(n1, k) * comb(n2, s - k) for k in range(low, high + 1)}
    total, own = comb(n1 + n2, s), ways[x1]
    return (
        Fraction(sum(w for k, w in ways.items() if k >= x1), total),
        Fraction(sum(w for k, w in ways.items() if k <= x1), total),
        Fraction(sum(w for w in ways.values() if w * 10**7 <= own * (10**7 + 1)), total),
    )


def unconditional(x1, n1, x2, n2):
    """Largest probability over the common rate, by brute force over all tables."""
    tables = [(a, b) for a in range(n1 + 1) for b in range(n2 + 1)]
    z = {t: score_order(n1, n2, *t) for t in tables}
    p = {t: fisher_order(n1, n2, *t) for t in tables}
    me = (x1, x2)
    regions = {
        "barnard_two_sided": [t for t in tables if abs(z[t]) >= abs(z[me])],
        "barnard_greater": [t for t in tables if z[t] >= z[me]],
        "barnard_less": [t for t in tables if z[t] <= z[me]],
        "boschloo_greater": [t for t in tables if p[t][0] <= p[me][0]],
        "boschloo_less": [t for t in tables if p[t][1] <= p[me][1]],
        "boschloo_two_sided": [t for t in tables if p[t][2] <= p[me][2]],
    }
    return {name: largest(region, n1, n2) for name, region in regions.items()}


def largest(region, n1, n2):
    n = n1 + n2
    weights = [0] * (n + 1)
    for a, b in region:
        weights[a + b] += comb(n1, a) * comb(n2, b)
    if weights[0] or weights[n]:
        return mp.mpf(1)
    grid = np.sin(np.linspace(0, np.pi / 2, 1601)[1:-1]) ** 2
    powers = np.arange(n + 1)
    ln_w = np.array([float(mp.log(w)) if w else -np.inf for w in weights])
    each = ln_w + np.outer(np.log(grid), powers) + np.outer(np.log1p(-grid), n - powers)
    values = np.logaddexp.reduce(each, axis=1)
    best = mp.mpf(0)
    exact = lambda q: sum(w * q**s * (1 - q) ** (n - s) for s, w in enumerate(weights) if w)  # noqa: E731
    for i in range(1, len(values) - 1):
        if values[i] >= values[i - 1] and values[i] >= values[i + 1] and values[i] > values.max() - 1e-3:
            low, high = mp.mpf(grid[i - 1]), mp.mpf(grid[i + 1])
            slope = lambda q: sum(  # noqa: E731
                w * (s - n * q) * q**s * (1 - q) ** (n - s) for s, w in enumerate(weights) if w
            )
            at = root(slope, low, high) if (slope(low) > 0) != (slope(high) > 0) else (low + high) / 2
            best = max(best, exact(at))
    return best


def peers(x1, n1, x2, n2, made, worst):
    """Relative differences of scipy and statsmodels from the referee, where they share the definition."""
    table = [[x1, n1 - x1], [x2, n2 - x2]]
    note = lambda name, got, want: worst.__setitem__(  # noqa: E731
        name, max(worst.get(name, 0.0), abs(float(got) / float(want) - 1) if float(want) else 0.0)
    )
    if n1 + n2 <= 400:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            note("scipy fisher_exact greater", stats.fisher_exact(table, "greater").pvalue, made["fisher"]["greater"])
            note("scipy fisher_exact two-sided", stats.fisher_exact(table).pvalue, made["fisher"]["two_sided"])
    if 0 < x1 + x2 < n1 + n2:
        chi = stats.chi2_contingency(table, correction=False)
        note("scipy chi2_contingency", chi.pvalue, made["chi_square"]["pearson"][1])
    low, _ = sm.confint_proportions_2indep(x1, n1, x2, n2, compare="diff", method="newcomb")
    if abs(low) > 1e-3:
        note("statsmodels newcomb", low, made["newcombe"][0])


def plain(value):
    if isinstance(value, dict):
        return {name: plain(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(part) for part in value]
    if isinstance(value, (int, str)):
        return value
    return "inf" if value == mp.inf else float(mp.nstr(value, 20))


def main():
    cases, worst = [], {}
    for x1, n1, x2, n2 in pairs():
        total = n1 + n2
        made = {
            "fisher": fisher(x1, n1, x2, n2),
            "chi_square": chi_square(x1, n1, x2, n2),
            "miettinen_nurminen": score_difference(x1, n1, x2, n2, mp.mpf(total) / (total - 1)),
            "mee": score_difference(x1, n1, x2, n2, mp.mpf(1)),
            "newcombe": newcombe(x1, n1, x2, n2),
            "koopman": koopman(x1, n1, x2, n2) if x1 + x2 else [mp.mpf(0), mp.inf],
        }
        if 0 < x1 + x2 < total:
            made["odds_score"] = odds_score(x1, n1, x2, n2)
            if total <= 250:
                made["odds_exact"] = odds_exact(x1, n1, x2, n2)
        if total <= 70:
            made["unconditional"] = unconditional(x1, n1, x2, n2)
        peers(x1, n1, x2, n2, made, worst)
        cases.append({"counts": [x1, n1, x2, n2], **plain(made)})
        print(len(cases), x1, n1, x2, n2, flush=True)
    record = {
        "source": f"mpmath {mp.__version__} at 40 digits, from the definitions",
        "second_route": f"scipy {scipy.__version__}, statsmodels {statsmodels.__version__}: worst relative differences",
        "worst": worst,
        "cases": cases,
    }
    path = Path(__file__).resolve().parents[1] / "values" / "two_rates.json"
    path.write_text(json.dumps(record, indent=0) + "\n", encoding="utf-8")
    print(len(cases), "cases", worst)


if __name__ == "__main__":
    main()
