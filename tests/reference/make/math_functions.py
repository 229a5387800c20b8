"""Makes values/math_functions.json: densities and special functions at 17 digits.

Needs: pip install mpmath. Run: python tests/reference/make/math_functions.py

The referee is mpmath at 50 digits. Special functions are those of which another library's form could serve as well:
the test measures both.
"""

import json
from pathlib import Path

import mpmath as mp

DIGITS = 50


def normal_ln_pdf(x):
    return -(mp.mpf(x) ** 2) / 2 - mp.log(2 * mp.pi) / 2


def student_t_ln_pdf(t, dof):
    t, dof = mp.mpf(t), mp.mpf(dof)
    top = mp.loggamma((dof + 1) / 2) - mp.loggamma(dof / 2) - mp.log(mp.pi * dof) / 2
    return top - (dof + 1) / 2 * mp.log1p(t * t / dof)


def chi_squared_ln_pdf(x, dof):
    x, a = mp.mpf(x), mp.mpf(dof) / 2
    return (a - 1) * mp.log(x) - x / 2 - a * mp.log(2) - mp.loggamma(a)


def ln_beta(a, b):
    a, b = mp.mpf(a), mp.mpf(b)
    return mp.loggamma(a) + mp.loggamma(b) - mp.loggamma(a + b)


def beta_ln_pdf(x, a, b):
    x, a, b = mp.mpf(x), mp.mpf(a), mp.mpf(b)
    return (a - 1) * mp.log(x) + (b - 1) * mp.log1p(-x) - ln_beta(a, b)


def fisher_f_ln_pdf(f, d1, d2):
    f, d1, d2 = mp.mpf(f), mp.mpf(d1), mp.mpf(d2)
    top = d1 / 2 * mp.log(d1 / d2) + (d1 / 2 - 1) * mp.log(f) - ln_beta(d1 / 2, d2 / 2)
    return top - (d1 + d2) / 2 * mp.log1p(d1 * f / d2)


def densities():
    for x in [0.0, 0.3, 1.0, -2.5, 5.0, 12.0, 25.0, 37.0]:
        yield "normal", [x], normal_ln_pdf(x)
    for dof in [0.5, 1.0, 3.0, 7.5, 30.0, 1000.0, 1e6]:
        for t in [0.0, 1e-9, 0.4, 2.0, 9.0, 300.0, 1e120]:
            yield "student_t", [t, dof], student_t_ln_pdf(t, dof)
        for x in [1e-200, 1e-3, 0.5, 1.0, 3.0, 20.0, 1000.0, 1.1e6]:
            yield "chi_squared", [x, dof], chi_squared_ln_pdf(x, dof)
    for a, b in [(0.5, 0.5), (1.0, 3.0), (3.5, 0.7), (40.0, 60.0), (700.0, 0.5), (1e5, 3e5), (1e6, 1e6)]:
        for x in [1e-200, 1e-5, 0.1, 0.25, 0.4, 0.5, 0.9, 0.999]:
            yield "beta", [x, a, b], beta_ln_pdf(x, a, b)
    for d1, d2 in [(0.5, 3.0), (1.0, 30.0), (2.0, 6.0), (10.0, 10.0), (100.0, 1e6), (1e6, 40.0), (1e5, 1e5)]:
        for f in [1e-100, 1e-4, 0.3, 0.95, 1.0, 1.2, 4.0, 1e5]:
            yield "fisher_f", [f, d1, d2], fisher_f_ln_pdf(f, d1, d2)


def special():
    xs = [
        1e-12,
        1e-5,
        0.003,
        0.1,
        0.5,
        0.9,
        1.25,
        1.4,
        1.461,
        1.4632,
        1.6,
        2.0,
        2.5,
        3.7,
        7.0,
        11.9,
        12.5,
        30.0,
        200.5,
        1e4,
        1e9,
    ]
    for x in xs:
        yield "digamma", [x], mp.digamma(mp.mpf(x))
        yield "ln_gamma", [x], mp.loggamma(mp.mpf(x))
    for a, b in [(0.5, 0.5), (3.0, 4.0), (0.5, 1e6), (12.0, 3e5), (1e6, 1e6), (30.0, 70.0), (1e-3, 500.0)]:
        yield "ln_beta", [a, b], ln_beta(a, b)
    for n, k in [(10.0, 3.0), (100.0, 50.0), (240.0, 107.0), (1000.0, 999.0), (100000.0, 2.0), (1000000.0, 400000.0)]:
        n_, k_ = mp.mpf(n), mp.mpf(k)
        yield "ln_choose", [n, k], mp.loggamma(n_ + 1) - mp.loggamma(k_ + 1) - mp.loggamma(n_ - k_ + 1)
    for x in [-3.0, -0.4, 1e-9, 0.3, 0.7, 1.0, 1.8, 2.6, 4.0, 7.0, 12.0, 20.0, 26.0]:
        yield "erfc", [x], mp.erfc(mp.mpf(x))
        yield "erf", [x], mp.erf(mp.mpf(x))
    for x in [-700.0, -40.0, -3.0, -0.2, 1e-10, 0.6, 2.0, 30.0]:
        yield "expit", [x], 1 / (1 + mp.exp(-mp.mpf(x)))
    for p in [1e-300, 1e-9, 0.02, 0.3, 0.4999999, 0.500001, 0.72, 0.99, 0.9999999]:
        yield "logit", [p], mp.log(mp.mpf(p) / (1 - mp.mpf(p)))


def main():
    mp.mp.dps = DIGITS + 320
    entries = []
    for family, at, want in densities():
        entries.append({"family": family, "what": "ln_pdf", "at": at, "want": float(mp.nstr(want, 20))})
        if want > mp.log(mp.mpf("1e-300")) and want < 690:
            entries.append({"family": family, "what": "pdf", "at": at, "want": float(mp.nstr(mp.exp(want), 20))})
    for what, at, want in special():
        entries.append({"family": "special", "what": what, "at": at, "want": float(mp.nstr(want, 20))})
    body = ",\n".join(json.dumps(entry) for entry in entries)
    made_with = json.dumps(f"mpmath {mp.__version__} ({DIGITS} digits)")
    text = f'{{\n "made_with": {made_with},\n "entries": [\n{body}\n]}}\n'
    Path(__file__).parents[1].joinpath("values", "math_functions.json").write_text(text)
    print(len(entries), "entries")


if __name__ == "__main__":
    main()
