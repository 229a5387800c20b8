"""Makes values/robust_limits.json: contrasts of rates under a robust covariance, with their limits, at 17 digits.

Needs: pip install numpy scipy. Run: python tests/reference/make/robust_limits.py

Covariance CR2 and degrees of freedom by the dense matrices of cluster_robust.py, trays as clusters. The statistic is
the least distance from the estimates (by their covariance) at which the two rates are equal, the limits are the least
and largest difference within t times that distance: on a grid of angles, then by Brent's method. Data are invented.
"""

import json
from pathlib import Path

import numpy as np
import scipy
from cluster_robust import cr2, satterthwaite
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import t

RATES = {2: [0.35, 0.6, 0.75], 3: [0.2, 0.5, 0.9], 4: [0.45, 0.55, 0.7], 6: [0.05, 0.3, 0.95]}


def expit(x):
    return 1 / (1 + np.exp(-x))


def contrast(b, v, dof, critical):
    """Statistic and limits of the second rate less the first; `b` are their logits, `v` the covariance of those."""
    root = np.linalg.cholesky(v)
    angles = np.linspace(0, 2 * np.pi, 20_001)

    def difference(angle, radius):
        at = b + root @ (radius * np.array([np.cos(angle), np.sin(angle)]))
        return expit(at[1]) - expit(at[0])

    def extreme(radius, sign):
        found = [sign * difference(angle, radius) for angle in angles[::20]]
        near = angles[::20][int(np.argmax(found))]
        width = angles[20]
        best = minimize_scalar(
            lambda a: -sign * difference(a, radius),
            bounds=(near - width, near + width),
            method="bounded",
            options={"xatol": 1e-12},
        )
        return sign * -best.fun

    estimate = expit(b[1]) - expit(b[0])
    sign = np.sign(estimate)
    statistic = sign * brentq(lambda radius: sign * extreme(radius, -sign), 1e-9, 1e3, xtol=1e-13, rtol=1e-14)
    return {
        "value": estimate,
        "statistic": statistic,
        "df": dof,
        "p": 2 * t.sf(abs(statistic), dof),
        "critical": critical,
        "low": extreme(critical, -1.0),
        "high": extreme(critical, 1.0),
    }


def case(trays, seed):
    rng = np.random.default_rng([91, trays, seed])
    level = np.repeat(np.arange(3), trays)
    stuck = np.full(len(level), 20)
    rooted = rng.binomial(stuck, expit(np.log(np.array(RATES[trays]) / (1 - np.array(RATES[trays])))[level]))
    if any(len(set(rooted[level == k])) < 2 or not 0 < rooted[level == k].sum() < 20 * trays for k in range(3)):
        return None  # trays all alike show no spread
    p = np.array([rooted[level == k].sum() / stuck[level == k].sum() for k in range(3)])
    x = (level[:, None] == np.arange(3)).astype(float)
    w = stuck * (p * (1 - p))[level]
    e = (rooted - stuck * p[level]) / w
    v = cr2(x, w, e, np.arange(len(level)))
    b = np.log(p / (1 - p))
    found = []
    # one at a time, and three at once (Bonferroni's limits, which Holm's P values come with)
    for share in (1, 3):
        for low, high in ((0, 1), (0, 2), (1, 2)):
            c = np.eye(3)[high] - np.eye(3)[low]
            dof = float(satterthwaite(x, w, np.arange(len(level)), c))
            critical = float(t.isf(0.025 / share, dof))
            pair = [low, high]
            row = contrast(b[pair], v[np.ix_(pair, pair)], dof, critical)
            found.append({"share": share, "pair": pair, **{name: float(x) for name, x in row.items()}})
    return {
        "trays": trays,
        "rooted": rooted.tolist(),
        "stuck": stuck.tolist(),
        "level": level.tolist(),
        "contrasts": found,
    }


def main():
    cases = [found for trays in RATES for seed in (1, 2, 3, 4) if (found := case(trays, seed)) is not None]
    lines = ",\n".join(json.dumps(one, separators=(",", ":")) for one in cases)
    made = json.dumps(f"numpy {np.__version__}, scipy {scipy.__version__}")
    target = Path(__file__).parents[1] / "values" / "robust_limits.json"
    target.write_text('{"made_with": ' + made + ',\n"cases": [\n' + lines + "\n]}\n")


if __name__ == "__main__":
    main()
