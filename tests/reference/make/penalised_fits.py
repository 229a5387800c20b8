"""Penalised fits in high precision. Needs mpmath 1.4; writes ../values/penalised_fits.json

The penalised log-likelihood sum y ln p + (m - y) ln(1 - p) + 0.5 ln |X' W X| is maximised as it stands, by Newton's
method on numerical derivatives at 40 digits; nothing of its score is worked out by hand. Likelihood-ratio statistics
compare with the maximum over the other coefficients under the same penalty.
"""

import json
import pathlib

import mpmath as mp

mp.mp.dps = 40
LINKS = {
    "logit": lambda eta: 1 / (1 + mp.exp(-eta)),
    "probit": mp.ncdf,
    "cloglog": lambda eta: -mp.expm1(-mp.exp(eta)),
    "loglog": lambda eta: mp.exp(-mp.exp(-eta)),
}
# Counts rooted of 20 stuck at three strengths in two dips, invented; one combination is full and one empty.
SMALL = {
    "x": [[1, 0, 0, 0], [1, 1, 0, 0], [1, 0, 1, 0], [1, 0, 0, 1], [1, 1, 0, 1], [1, 0, 1, 1]],
    "y": [0, 7, 20, 3, 12, 20],
    "m": [20, 20, 20, 20, 20, 20],
}
FULL = {"x": [[1, 0], [1, 1]], "y": [14, 20], "m": [20, 20]}


def objective(case, link, b):
    total, p = mp.mpf(0), len(b)
    information = mp.zeros(p, p)
    for row, y, m in zip(case["x"], case["y"], case["m"], strict=True):
        eta = mp.fsum(x * c for x, c in zip(row, b, strict=True))
        rate, slope = LINKS[link](eta), mp.diff(LINKS[link], eta)
        total += y * mp.log(rate) + (m - y) * mp.log(1 - rate)
        weight = m * slope**2 / (rate * (1 - rate))
        for i in range(p):
            for j in range(p):
                information[i, j] += weight * row[i] * row[j]
    return total + mp.log(mp.det(information)) / 2, information


STEP = mp.mpf(10) ** -10


def newton_step(value, at):
    """Newton's step from differences of the values."""
    n, here = len(at), value(at)

    def shifted(*moves):
        point = list(at)
        for i, sign in moves:
            point[i] += sign * STEP
        return value(point)

    gradient = mp.matrix([(shifted((i, 1)) - shifted((i, -1))) / (2 * STEP) for i in range(n)])
    hessian = mp.zeros(n, n)
    for i in range(n):
        hessian[i, i] = (shifted((i, 1)) - 2 * here + shifted((i, -1))) / STEP**2
        for k in range(i + 1, n):
            same = shifted((i, 1), (k, 1)) + shifted((i, -1), (k, -1))
            hessian[i, k] = hessian[k, i] = (same - shifted((i, 1), (k, -1)) - shifted((i, -1), (k, 1))) / (4 * STEP**2)
    move = mp.lu_solve(hessian, -gradient)
    longest = max(abs(x) for x in move)
    return move * min(mp.mpf(1), 1 / longest) if longest else move


def fit(case, link, free):
    """Coefficients at the maximum over those in `free`, the others 0."""

    def spread(at):
        full = [mp.mpf(0)] * len(case["x"][0])
        for j, x in zip(free, at, strict=True):
            full[j] = x
        return full

    def value(at):
        return objective(case, link, spread(at))[0]

    at = [mp.mpf(0)] * len(free)
    for _ in range(60):
        move, here = newton_step(value, at), value(at)
        trial = [x + d for x, d in zip(at, move, strict=True)]
        while value(trial) < here - mp.mpf(10) ** -25:
            move = move / 2
            trial = [x + d for x, d in zip(at, move, strict=True)]
        at = trial
        if max(abs(x) for x in move) < mp.mpf(10) ** -18:
            break
    return spread(at)


def summary(case, link):
    p = len(case["x"][0])
    b = fit(case, link, list(range(p)))
    top, information = objective(case, link, b)
    covariance = information**-1
    found = {"coef": b, "se": [mp.sqrt(covariance[j, j]) for j in range(p)], "objective": top}
    falls = []
    for j in range(p):
        held = fit(case, link, [k for k in range(p) if k != j])
        falls.append(2 * (top - objective(case, link, held)[0]))
    found["statistic"] = falls
    found["p"] = [mp.erfc(mp.sqrt(fall / 2)) for fall in falls]
    return {
        name: [mp.nstr(x, 17) for x in value] if isinstance(value, list) else mp.nstr(value, 17)
        for name, value in found.items()
    }


def numbers(entry):
    return {name: [float(x) for x in v] if isinstance(v, list) else float(v) for name, v in entry.items()}


if __name__ == "__main__":
    values = {"source": f"mpmath {mp.__version__}, 40 digits", "full_arm_20_of_20_against_14_of_20": {}, "two_ends": {}}
    values["full_arm_20_of_20_against_14_of_20"] = {link: numbers(summary(FULL, link)) for link in LINKS}
    values["two_ends"] = {link: numbers(summary(SMALL, link)) for link in LINKS}
    path = pathlib.Path(__file__).parents[1] / "values" / "penalised_fits.json"
    path.write_text(json.dumps(values, indent=1) + "\n", encoding="utf-8")
