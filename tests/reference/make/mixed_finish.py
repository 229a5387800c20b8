"""Step 3 of 3 (see mixed_data.py): beta-binomial fits by scipy, quadrature by numpy, and the file of values."""

import json
import pathlib
import sys

import numpy as np
import scipy
import statsmodels
from scipy.optimize import minimize
from scipy.special import betaln, gammaln, log_expit, log_ndtr, roots_hermitenorm


def log_rates(link, eta):
    """ln p and ln(1 - p)."""
    if link == "logit":
        return log_expit(eta), log_expit(-eta)
    if link == "probit":
        return log_ndtr(eta), log_ndtr(-eta)
    if link == "cloglog":
        rate = np.exp(np.clip(eta, -300, 6))
        return np.log(-np.expm1(-rate)), -rate
    rest, mean = log_rates("cloglog", -eta)
    return mean, rest


def constant(y, m):
    return gammaln(m + 1) - gammaln(y + 1) - gammaln(m - y + 1)


def beta_binomial(case, x, y, m):
    """The best of several starts of a quasi-Newton search, polished by a simplex search."""
    p = x.shape[1]

    def loss(at):
        ln_p, ln_q = log_rates(case["link"], np.clip(x @ at[:p], -30, 30))
        theta = np.exp(np.clip(at[p], -16, 12))
        a, b = np.exp(ln_p) / theta, np.exp(ln_q) / theta
        return -np.sum(constant(y, m) + betaln(y + a, m - y + b) - betaln(a, b))

    best = None
    for start in (-4.0, -2.0, -9.0):
        at = np.append(case["binomial"]["coef"], start)
        fit = minimize(loss, at, method="BFGS", options={"gtol": 1e-9})
        if p < 7 and len(y) < 500:
            fit = minimize(loss, fit.x, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxfev": 4000})
        if best is None or fit.fun < best.fun:
            best = fit
    theta = float(np.exp(np.clip(best.x[p], -16, 12)))
    return {"coef": best.x[:p].tolist(), "rho": theta / (1 + theta), "loglik": -float(best.fun)}


def marginal(case, x, y, m, coef, sd):
    """Log-likelihood of a random intercept per tray by 90 nodes around the mode of each tray."""
    eta = x @ np.array(coef)
    grid = np.linspace(-9, 9, 3601)
    z, w = roots_hermitenorm(90)

    def joint(v):
        ln_p, ln_q = log_rates(case["link"], eta[:, None] + sd * v)
        parts = np.where(y[:, None] > 0, y[:, None] * ln_p, 0) + np.where(
            (m - y)[:, None] > 0, (m - y)[:, None] * ln_q, 0
        )
        return parts - 0.5 * v**2

    h = grid[1] - grid[0]
    total = 0.0
    logs = joint(np.broadcast_to(grid, (len(y), len(grid))))
    top = logs.max(axis=1)
    weight = np.exp(logs - top[:, None])
    mean = (weight * grid).sum(1) / weight.sum(1)
    spread = np.sqrt((weight * grid**2).sum(1) / weight.sum(1) - mean**2)
    v = mean[:, None] + spread[:, None] * z
    inside = joint(v) + 0.5 * z**2 + np.log(w)
    peak = inside.max(axis=1)
    quadrature = peak + np.log(np.exp(inside - peak[:, None]).sum(1)) + np.log(spread)
    # The same by equal steps: both routes must agree.
    steps = top + np.log(weight.sum(1) * h)
    assert np.max(np.abs(quadrature - steps)) < 1e-8, np.max(np.abs(quadrature - steps))
    total = np.sum(constant(y, m) + steps - 0.5 * np.log(2 * np.pi))
    return float(total)


def main(folder):
    cases = json.loads((folder / "cases.json").read_text())
    for index, case in enumerate(cases):
        x, y, m = np.array(case["x"]).T, np.array(case["rooted"], float), np.array(case["stuck"], float)
        if case["kind"] not in ("nested", "crossed"):
            case["beta_binomial"] = beta_binomial(case, x, y, m)
        fits = folder / f"case{index:03d}.fit"
        if fits.exists():
            lines = [line.split(",") for line in fits.read_text().splitlines()]
            values = {line[0]: [float(v) for v in line[1:]] for line in lines}
            if "coef1" in values:
                case["laplace"] = {"coef": values["coef1"], "sd": values["sd1"], "loglik": values["loglik1"][0]}
            if "coef25" in values:
                sd = values["sd25"][0]
                loglik = marginal(case, x, y, m, values["coef25"], sd)
                case["quadrature"] = {"coef": values["coef25"], "sd": sd, "loglik": loglik}
        if case["kind"] != "covariate":
            case["x"] = [[int(v) for v in column] for column in case["x"]]
    made = f"statsmodels {statsmodels.__version__} (binomial), scipy {scipy.__version__} (beta-binomial), lme4 1.1.31"
    made += " (random intercepts; log-likelihood at its 25-node estimates by numpy, 90 nodes and equal steps)"
    out = pathlib.Path(__file__).parent.parent / "values" / "mixed.json"
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    out.write_text('{"made_with": ' + json.dumps(made) + ',\n"cases": [\n' + lines + "\n]}\n")
    print(len(cases), out.stat().st_size, sum("laplace" in c for c in cases), sum("quadrature" in c for c in cases))


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
