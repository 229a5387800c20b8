"""Makes values/mixed_direct.json: likelihoods of random intercepts maximised directly, to more digits than others give.

Needs numpy 2, scipy 1.17. Run: python tests/reference/make/mixed_direct.py
It reads values/mixed.json and values/mixed_layers.json.

- "single": a random intercept per tray, every link. The integral of each tray is taken by equal steps of 0.04 over 9
  standard deviations each way; with smooth integrands its error falls faster than any power of the step.
- "laplace": Laplace's approximation of nested and crossed groupings with the logit, by dense matrices: with b the
  coefficients, u standard normal and eta = X b + sum s_k Z_k u_k, the largest over u of sum y ln p + (m - y) ln(1 - p)
  - u'u / 2, less half the logarithm of the determinant of I + S Z' W Z S there, W = diag(m p (1 - p)).

Both are maximised by BFGS from several starts and polished by Newton steps with derivatives by central differences.
Log-likelihoods hold the binomial coefficients. Standard deviations stand in the order of the groupings: bay before
tray or row (mixed.json), trays first (mixed_layers.json).
"""

import json
import pathlib
import warnings

import numpy as np
import scipy
from mixed_finish import constant, log_rates
from scipy.optimize import minimize
from scipy.special import expit, log_expit, logsumexp

VALUES = pathlib.Path(__file__).parent.parent / "values"
Z = np.arange(-225, 226) * 0.04
LOG_WEIGHT = -0.5 * Z**2 + np.log(0.04 / np.sqrt(2 * np.pi))


def single(case, x, y, m):
    """Minus the log-likelihood of a random intercept per tray."""

    def loss(at):
        ln_p, ln_q = log_rates(case["link"], np.clip((x @ at[:-1])[:, None] + at[-1] * Z, -30, 30))
        logs = y[:, None] * ln_p + (m - y)[:, None] * ln_q + LOG_WEIGHT
        return -(constant(y, m).sum() + logsumexp(logs, axis=1).sum())

    return loss


def laplace(x, y, m, groups):
    """Minus Laplace's approximation of the log-likelihood of random intercepts of all groupings."""
    blocks = [np.equal.outer(levels, np.arange(levels.max() + 1)).astype(float) for levels in groups]
    sizes = [block.shape[1] for block in blocks]
    z = np.hstack(blocks)
    p, add = x.shape[1], constant(y, m).sum()

    def loss(at):
        scaled = z * np.repeat(at[p:], sizes)
        fixed, u = x @ at[:p], np.zeros(z.shape[1])

        def joint(u):
            eta = fixed + scaled @ u
            return np.sum(y * log_expit(eta) + (m - y) * log_expit(-eta)) - 0.5 * u @ u

        value = joint(u)
        for _ in range(100):
            rate = expit(fixed + scaled @ u)
            curvature = np.eye(len(u)) + scaled.T @ (scaled * (m * rate * (1 - rate))[:, None])
            slope = scaled.T @ (y - m * rate) - u
            step = np.linalg.solve(curvature, slope)
            if slope @ step < 1e-22:
                break
            length = 1.0
            while (new := joint(u + length * step)) < value - 1e-12 * abs(value) and length > 1e-6:
                length /= 2
            u, value = u + length * step, new
        return -(add + value - 0.5 * np.linalg.slogdet(curvature)[1])

    return loss


def slope(loss, at):
    """Central differences without their first error term, which would move a standard deviation near 0."""

    def along(step):
        return (8 * (loss(at + step) - loss(at - step)) - loss(at + 2 * step) + loss(at - 2 * step)) / 12e-4

    return np.array([along(step) for step in 1e-4 * np.eye(len(at))])


def curvature(loss, at):
    steps = 1e-3 * np.eye(len(at))
    return np.array([(slope(loss, at + step) - slope(loss, at - step)) / 2e-3 for step in steps])


def largest(loss, coef, deviations):
    """The best of several starts, polished."""
    best = None
    for start in ([max(sd, 0.1) for sd in deviations], [0.5] * len(deviations)):
        found = minimize(loss, [*coef, *start], jac=lambda at: slope(loss, at), method="BFGS", options={"gtol": 1e-6})
        if best is None or found.fun < best.fun - 1e-9:
            best = found
    at = best.x
    for _ in range(2):
        matrix = curvature(loss, at)
        if np.linalg.eigvalsh(matrix)[0] < 1e-3:
            break
        at = at - np.linalg.solve(matrix, slope(loss, at))
    if loss(at) > best.fun + 1e-9:
        at = best.x
    deviations = np.abs(at[len(coef) :])
    return {"coef": at[: len(coef)].tolist(), "sd": deviations.tolist(), "loglik": -float(loss(at))}


def numbers(case):
    return np.array(case["rooted"], float), np.array(case["stuck"], float)


def of_mixed(cases):
    found = {"single": {}, "laplace": {}}
    for case in cases:
        (y, m), x = numbers(case), np.array(case["x"], float).T
        if "quadrature" in case:
            near = case["quadrature"]
            found["single"][case["id"]] = largest(single(case, x, y, m), near["coef"], [near["sd"]])
        elif case["kind"] in ("nested", "crossed") and case["link"] == "logit" and "laplace" in case:
            second = np.arange(len(y)) if case["kind"] == "nested" else np.array(case["row"])
            near, groups = case["laplace"], [np.array(case["bay"]), second]
            found["laplace"][case["id"]] = largest(laplace(x, y, m, groups), near["coef"], near["sd"])
    return found


def of_layers(cases):
    found = []
    for case in cases:
        (y, m), code = numbers(case), np.array(case["strength"])
        x = np.column_stack([np.ones(len(y))] + [(code == k).astype(float) for k in range(1, code.max() + 1)])
        order = [name for name in ("row", "column", "batch", "bay", "plant") if name in case["groups"]]
        groups = [np.arange(len(y)), *[np.array(case["groups"][name]) for name in order]]
        found.append(largest(laplace(x, y, m, groups), case["coef"], case["sd"]))
    return found


def main():
    warnings.simplefilter("ignore")
    mixed = json.loads((VALUES / "mixed.json").read_text())["cases"]
    layers = json.loads((VALUES / "mixed_layers.json").read_text())["cases"]
    made = f"numpy {np.__version__}, scipy {scipy.__version__} (BFGS and Newton by central differences)"
    record = {"made_with": made, **of_mixed(mixed), "layers": of_layers(layers)}
    (VALUES / "mixed_direct.json").write_text(json.dumps(record, separators=(",", ":")).replace("},", "},\n") + "\n")


if __name__ == "__main__":
    main()
