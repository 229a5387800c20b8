"""Makes values/tails.json: tails, probabilities and special functions at 17 digits.

Needs: pip install scipy mpmath gmpy2. Run: python tests/reference/make/tails.py

The referee is mpmath: series of positive terms only (DLMF 8.7.1, 8.17.8), at 50 digits, for the tail itself. An
upper gamma
tail has no such series: it is 1 - P with as many more digits as the tail is small. scipy picks the arguments (isf at
the wanted
tail) and its own worst differences are printed and kept in the file.
"""

import json
import math
from pathlib import Path

import mpmath as mp
import scipy
from scipy import special, stats

DIGITS = 50
TAILS = [0.3, 1e-2, 1e-5, 1e-10, 1e-50, 1e-100, 1e-200, 1e-300]


def gamma_lower(a, x):
    """P(a, x) = x^a e^-x / Gamma(a + 1) (1 + x/(a+1) + ...)."""
    total = term = mp.mpf(1)
    k = 0
    while term > total * mp.eps:
        k += 1
        term *= x / (a + k)
        total += term
    return mp.exp(a * mp.log(x) - x - mp.loggamma(a + 1)) * total


def beta_lower(a, b, x, y):
    """I_x(a, b); near x = 1, where its series is slow, 1 - I_y(b, a) with 310 digits more."""
    if y > 0.01:
        with mp.workdps(DIGITS):
            return beta_series(a, b, x, y)
    return 1 - beta_series(b, a, y, x)


def beta_series(a, b, x, y):
    """I_x(a, b) = x^a y^b / (a B(a, b)) (1 + (a+b)/(a+1) x + ...)."""
    total = term = mp.mpf(1)
    k = 0
    while True:
        k += 1
        ratio = (a + b + k - 1) / (a + k) * x
        term *= ratio
        total += term
        if ratio < 1 and term / (1 - ratio) < total * mp.eps:
            break
    ln_b = mp.loggamma(a) + mp.loggamma(b) - mp.loggamma(a + b)
    return mp.exp(a * mp.log(x) + b * mp.log(y) - ln_b) / a * total


def chi_squared_sf(x, dof):
    lost = -math.log10(max(special.gammaincc(dof / 2, x / 2), 1e-305))
    with mp.workdps(DIGITS + int(lost) + 5):
        return 1 - gamma_lower(mp.mpf(dof) / 2, mp.mpf(x) / 2)


def chi_squared_cdf(x, dof):
    with mp.workdps(DIGITS):
        return gamma_lower(mp.mpf(dof) / 2, mp.mpf(x) / 2)


def beta_cdf(x, a, b):
    return beta_lower(mp.mpf(a), mp.mpf(b), mp.mpf(x), 1 - mp.mpf(x))


def beta_sf(x, a, b):
    return beta_lower(mp.mpf(b), mp.mpf(a), 1 - mp.mpf(x), mp.mpf(x))


def student_t_sf(t, dof):
    t, dof = mp.mpf(t), mp.mpf(dof)
    y = dof / (dof + t * t)
    return beta_lower(dof / 2, mp.mpf(1) / 2, y, 1 - y) / 2


def fisher_f_sf(f, d1, d2):
    f, d1, d2 = mp.mpf(f), mp.mpf(d1), mp.mpf(d2)
    y = d2 / (d1 * f + d2)
    return beta_lower(d2 / 2, d1 / 2, y, 1 - y)


def fisher_f_cdf(f, d1, d2):
    f, d1, d2 = mp.mpf(f), mp.mpf(d1), mp.mpf(d2)
    x = d1 * f / (d1 * f + d2)
    return beta_lower(d1 / 2, d2 / 2, x, 1 - x)


def normal_sf(x):
    return mp.erfc(mp.mpf(x) / mp.sqrt(2)) / 2


def binomial_pmf(k, n, p):
    p = mp.mpf(p)
    return mp.exp(
        mp.loggamma(n + 1) - mp.loggamma(k + 1) - mp.loggamma(n - k + 1) + k * mp.log(p) + (n - k) * mp.log(1 - p)
    )


def hypergeometric_pmf(k, good, bad, draws):
    return mp.binomial(good, k) * mp.binomial(bad, draws - k) / mp.binomial(good + bad, draws)


def beta_binomial_pmf(k, n, mean, rho):
    g = mp.mpf(rho) / (1 - mp.mpf(rho))
    value = mp.binomial(n, k)
    for i in range(n):
        value *= (mp.mpf(mean) + i * g) if i < k else (1 - mp.mpf(mean) + (i - k) * g)
        value /= 1 + i * g
    return value


def f_isf(tail, d1, d2):
    """scipy's f.isf ends at 1e-16; the lower tail of 1 / F does not."""
    return 1 / stats.f.ppf(tail, d2, d1)


DOFS = [0.5, 1, 2, 3, 7.5, 30, 100, 1000, 1e5, 1e6]
T_DOFS = [1, 2, 3, 7.5, 30, 100, 1000, 1e5, 1e6]
F_DOFS = [
    (0.5, 3),
    (1, 1),
    (1, 30),
    (2, 6),
    (3, 1000),
    (10, 10),
    (30, 4),
    (100, 1e6),
    (1e6, 40),
    (1000, 3000),
    (1e5, 1e5),
    (1e6, 1e6),
]
SHAPES = [
    (0.5, 0.5),
    (0.5, 40),
    (1, 3),
    (3.5, 0.7),
    (5, 96),
    (40, 60),
    (700, 0.5),
    (1e3, 2e3),
    (1e5, 30),
    (1e5, 3e5),
    (1e6, 0.5),
    (1e6, 1e6),
]


def rows():  # noqa: C901 - one plain list of cases
    for x in [0, 0.5, 1, 1.5, 2, 3, 5, 8, 10, 15, 20, 25, 30, 37, -0.7, -3]:
        yield "normal", "sf", [float(x)], normal_sf(x), special.ndtr(-x)
    families = [
        ("chi_squared", "sf", [(d,) for d in DOFS], chi_squared_sf, stats.chi2.isf, stats.chi2.sf),
        ("chi_squared", "cdf", [(d,) for d in DOFS], chi_squared_cdf, stats.chi2.ppf, stats.chi2.cdf),
        ("student_t", "sf", [(d,) for d in T_DOFS], student_t_sf, stats.t.isf, stats.t.sf),
        ("fisher_f", "sf", F_DOFS, fisher_f_sf, f_isf, stats.f.sf),
        ("fisher_f", "cdf", F_DOFS, fisher_f_cdf, stats.f.ppf, stats.f.cdf),
        ("beta", "sf", SHAPES, beta_sf, stats.beta.isf, stats.beta.sf),
        ("beta", "cdf", SHAPES, beta_cdf, stats.beta.ppf, stats.beta.cdf),
    ]
    for family, what, shapes, referee, inverse, check in families:
        for shape in shapes:
            for tail in TAILS:
                x = float(inverse(tail, *shape))
                # 9 digits are as good as 17 for an argument, and 1 - 1e-20 is not one.
                x = float(f"{x:.9g}")
                top = 1 if family == "beta" else math.inf
                if not 0 < x < top or not math.isfinite(x) or x < 1e-290 or x > 1e290:
                    continue
                want = referee(x, *shape)
                if want < mp.mpf("1e-302"):
                    continue
                yield family, what, [x, *map(float, shape)], want, check(x, *shape)
    for n, p in [(10, 0.3), (96, 0.5), (240, 0.65), (1000, 0.01), (100000, 0.4)]:
        for k in sorted({0, 1, n // 10, n // 3, n // 2, n - 1, n}):
            want = binomial_pmf(k, n, p)
            if want > mp.mpf("1e-300"):
                yield "binomial", "pmf", [float(k), float(n), p], want, float(want)
    for good, bad, draws in [(10, 14, 9), (240, 240, 263), (1000, 5000, 800), (100000, 40000, 7000)]:
        centre = draws * good // (good + bad)
        for k in sorted({max(0, draws - bad), centre // 2, centre, centre + 5, min(good, draws)}):
            want = hypergeometric_pmf(k, good, bad, draws) if draws - k <= bad else mp.mpf(0)
            if want > mp.mpf("1e-300"):
                yield (
                    "hypergeometric",
                    "ln_pmf",
                    [float(k), float(good), float(bad), float(draws)],
                    mp.log(want),
                    float(mp.log(want)),
                )
    for n, mean, rho in [
        (12, 0.4, 0.1),
        (40, 0.65, 1e-9),
        (40, 0.05, 0.5),
        (300, 0.5, 0.02),
        (2000, 0.3, 0.001),
        (2000, 0.3, 1e-8),
    ]:
        for k in sorted({0, n // 4, n // 2, n - 1, n}):
            want = beta_binomial_pmf(k, n, mean, rho)
            if want > mp.mpf("1e-300"):
                yield "beta_binomial", "ln_pmf", [float(k), float(n), mean, rho], mp.log(want), float(mp.log(want))
    for x in [0.01, 0.5, 1.0, 2.5, 7.0, 30.0, 1e4]:
        yield "special", "digamma", [x], mp.digamma(x), special.digamma(x)
        yield "special", "trigamma", [x], mp.polygamma(1, x), special.polygamma(1, x)
    for a, b in [(0.5, 0.5), (3, 4), (0.5, 1e6), (12, 3e5), (1e6, 1e6), (30, 70)]:
        want = mp.loggamma(a) + mp.loggamma(b) - mp.loggamma(mp.mpf(a) + b)
        yield "special", "ln_beta", [a, b], want, float(want)
    for n, k in [(10, 3), (240, 107), (100000, 2), (1000000, 400000)]:
        want = (
            mp.log(mp.binomial(n, k)) if n < 1e6 else mp.loggamma(n + 1) - mp.loggamma(k + 1) - mp.loggamma(n - k + 1)
        )
        yield "special", "ln_choose", [n, k], want, float(want)


def main():
    # Arguments are formed at the higher precision too, so that a complement is exact.
    mp.mp.dps = DIGITS + 310
    entries, worst = [], {}
    for family, what, at, want, other in rows():
        key = f"{family}::{what}"
        gap = abs(float(other) / float(want) - 1) if float(want) else 0.0
        worst[key] = max(worst.get(key, 0.0), gap)
        entries.append({"family": family, "what": what, "at": [float(v) for v in at], "want": float(mp.nstr(want, 20))})
    print({key: f"{gap:.1e}" for key, gap in worst.items()})
    made_with = f"mpmath {mp.__version__} ({DIGITS} digits), scipy {scipy.__version__}"
    body = ",\n".join(json.dumps(entry) for entry in entries)
    text = (
        json.dumps({"made_with": made_with, "scipy_worst": worst}, indent=1)[:-2]
        + ',\n "entries": [\n'
        + body
        + "\n]}\n"
    )
    Path(__file__).parents[1].joinpath("values", "tails.json").write_text(text)
    print(len(entries), "entries")


if __name__ == "__main__":
    main()
