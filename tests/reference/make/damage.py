"""Where deaths begin to rise, by an independent optimiser: values/damage.json.

Run with scipy 1.x from the top of the project: python tests/reference/make/damage.py
Deaths of 80 cuttings at each strength follow four shapes; the threshold is the strength at which they exceed those at
strength 0 by 5 of 100. Each shape is written with the threshold as a parameter of its own, so that its profile needs no
condition.
Nothing of rootling is imported.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import brentq, minimize
from scipy.special import expit, logit
from scipy.stats import chi2

OUT = Path(__file__).resolve().parent.parent / "values" / "damage.json"
D = np.array([0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0])
N = np.full(6, 80.0)
RISE = 0.05
X = np.log1p(D / 500.0)
with np.errstate(divide="ignore"):
    Z = np.log(D)


def loglik(p, y):
    p = np.clip(p, 1e-13, 1 - 1e-13)
    return float((y * np.log(p) + (N - y) * np.log1p(-p)).sum())


def steep(free):
    """Log odds per e-fold strength, from 0.2 to 20 between the two nearest strengths."""
    return min(0.2 + np.exp(free), 20 / np.log(2.0))


def flat(theta):
    return np.full(6, expit(theta[0]))


def straight(theta):
    return expit(theta[0] + theta[1] * X)


def rising(theta, ceiling=True):
    """Floor, share of the rest that is gained, strength halfway, steepness."""
    floor = expit(theta[0])
    gain = expit(theta[3]) if ceiling else 1.0
    with np.errstate(invalid="ignore", over="ignore"):
        return floor + gain * (1 - floor) * expit(steep(theta[2]) * (Z - theta[1]))


def natural(theta):
    return rising([*theta, 0.0], ceiling=False)


STARTS = {
    "flat": (flat, [[-1.5]], 1),
    "straight": (straight, [[-3.0, 1.0], [-4.0, 1.5]], 2),
    "natural-response": (natural, [[-3.5, z, s] for z in (7.5, 8.5, 9.5) for s in (-0.5, 0.5, 1.5)], 3),
    "rising": (rising, [[-3.5, z, s, g] for z in (7.8, 9.0) for s in (-0.5, 0.7, 1.8) for g in (-0.5, 2.0)], 4),
}


def best_of(value, starts):
    found = (np.inf, None)
    for start in starts:
        at = np.asarray(start, float)
        for _ in range(2):
            done = minimize(value, at, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 20000})
            at = done.x
        if done.fun < found[0]:
            found = (done.fun, at)
    return -found[0], found[1]


def with_threshold(name, at):
    """Rates by the other parameters when deaths have risen by RISE at ln strength `at`, and starts for them."""
    x = np.log1p(np.exp(at) / 500.0)
    if name == "straight":
        return lambda th: straight([th[0], (logit(min(expit(th[0]) + RISE, 1 - 1e-12)) - th[0]) / x]), [[-3.0], [-4.0]]
    if name == "natural-response":

        def rates(th):
            share = RISE / (1 - expit(th[0]))
            if share >= 1:
                return np.full(6, np.nan)
            return natural([th[0], at - logit(share) / steep(th[1]), th[1]])

        return rates, [[-3.5, s] for s in (-1.5, -0.5, 0.5, 1.5)]

    def rates(th):
        share = RISE / (expit(th[2]) * (1 - expit(th[0])))
        if share >= 1:
            return np.full(6, np.nan)
        return rising([th[0], at - logit(share) / steep(th[1]), th[1], th[2]])

    return rates, [[-3.5, s, g] for s in (-0.5, 0.7, 1.8) for g in (-0.5, 2.0)]


def fall(name, y, top, at):
    rates, starts = with_threshold(name, at)

    def value(th):
        p = rates(th)
        return 1e10 if np.isnan(p).any() else -loglik(p, y)

    return 2 * (top - best_of(value, starts)[0])


def one(y):
    y = np.asarray(y, float)
    free = loglik(y / N, y)
    fits = {}
    for name, (rates, starts, k) in STARTS.items():
        top, at = best_of(lambda th, rates=rates: -loglik(rates(th), y), starts)
        n = N.sum()
        aicc = 2 * k - 2 * top + 2 * k * (k + 1) / (n - k - 1)
        deviance = 2 * (free - top)
        p = chi2.sf(deviance, 6 - k)
        fits[name] = {"loglik": top, "theta": at, "rates": rates, "aicc": aicc, "p": p, "paid": deviance + k}
    least = min(fit["aicc"] for fit in fits.values())
    kept = {name: np.exp(-0.5 * (fit["aicc"] - least)) for name, fit in fits.items() if fit["p"] >= 0.01}
    total = sum(kept.values())
    kept = {name: weight / total for name, weight in kept.items() if weight >= 2e-3 * total}
    total = sum(kept.values())
    weights = {name: weight / total for name, weight in kept.items()}
    # Limits: a penalty of 1 for each parameter.
    least = min(fits[name]["paid"] for name in weights)
    lows, highs = [], []
    for name in weights:
        most = chi2.ppf(0.95, 1) - (fits[name]["paid"] - least)
        if most < 0:
            continue
        places = np.log(np.geomspace(500.0, 7500.0, 12))
        falls = np.array([fall(name, y, fits[name]["loglik"], at) for at in places])
        middle = places[falls.argmin()]

        def gap(at, name=name, most=most):
            return fall(name, y, fits[name]["loglik"], at) - most

        lows.append(brentq(gap, places[0], middle, xtol=1e-7))
        highs.append(brentq(gap, middle, places[-1], xtol=1e-7))
    return {
        "dead": y.tolist(),
        "weights": weights,
        "low": float(np.exp(min(lows))),
        "high": float(np.exp(max(highs))),
        "rates_at_zero": float(sum(w * fits[name]["rates"](fits[name]["theta"])[0] for name, w in weights.items())),
    }


if __name__ == "__main__":
    sets = [one([2, 3, 4, 9, 20, 41]), one([4, 4, 5, 6, 18, 30])]
    text = {
        "made_by": f"tests/reference/make/damage.py, scipy {scipy.__version__}",
        "strength": D.tolist(),
        "stuck": N.tolist(),
        "rise": RISE,
        "sets": sets,
    }
    OUT.write_text(json.dumps(text, indent=1) + "\n", "utf-8")
