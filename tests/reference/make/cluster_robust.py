"""Makes values/cluster_robust.json: covariance CR2 and its degrees of freedom by dense matrices, at 17 digits.

Needs: pip install numpy. Run: python tests/reference/make/cluster_robust.py

Straight from the formulas of Pustejovsky & Tipton 2018, J. Bus. Econ. Stat. 36:672-683, sections 2 and 3.2, with n x n
matrices: the adjustment A_g = D_g' B_g^(+1/2) D_g, the variance of a contrast as a sum of quadratic forms p_g' y, its
Satterthwaite degrees of freedom from all pairs of clusters, and the approximate Hotelling test from the variances of
all entries of the random matrix.
Weights are inverse working variances. Data are invented (seed 20251126).
"""

import json
from pathlib import Path

import numpy as np


def root_of_inverse(b):
    values, vectors = np.linalg.eigh(b)
    keep = values > 1e-10 * values.max()
    inverse = np.where(keep, 1 / np.sqrt(np.where(keep, values, 1)), 0)
    return (vectors * inverse) @ vectors.T


def parts(x, w, clusters):
    n = len(w)
    weight, working = np.diag(w), np.diag(1 / w)
    bread = np.linalg.inv(x.T @ weight @ x)
    residual_maker = np.eye(n) - x @ bread @ x.T @ weight
    found = []
    for g in np.unique(clusters):
        rows = np.flatnonzero(clusters == g)
        d = np.linalg.cholesky(working[np.ix_(rows, rows)]).T
        part = residual_maker[rows]
        b = d @ part @ working @ part.T @ d.T
        found.append((rows, d.T @ root_of_inverse(b) @ d, part))
    return bread, weight, working, found


def cr2(x, w, e, clusters):
    bread, weight, _, found = parts(x, w, clusters)
    meat = np.zeros((x.shape[1],) * 2)
    for rows, a, _ in found:
        score = x[rows].T @ weight[np.ix_(rows, rows)] @ a @ e[rows]
        meat += np.outer(score, score)
    return bread @ meat @ bread


def pulls(x, w, clusters, c):
    bread, weight, working, found = parts(x, w, clusters)
    vectors = [part.T @ a.T @ weight[np.ix_(rows, rows)] @ x[rows] @ bread @ c for rows, a, part in found]
    return np.array(vectors), working


def satterthwaite(x, w, clusters, c):
    p, working = pulls(x, w, clusters, c)
    form = p @ working @ p.T
    return np.trace(form) ** 2 / (form**2).sum()


def hotelling(x, w, e, clusters, contrasts, estimates):
    q = len(contrasts)
    bread = parts(x, w, clusters)[0]
    v = contrasts @ cr2(x, w, e, clusters) @ contrasts.T
    t2 = estimates @ np.linalg.solve(v, estimates)
    target = contrasts @ bread @ contrasts.T
    turned = root_of_inverse(target) @ contrasts
    each = [pulls(x, w, clusters, c) for c in turned]
    working = each[0][1]
    variance = 0.0
    for s in range(q):
        for t in range(q):
            st = each[s][0] @ working @ each[t][0].T
            ss = each[s][0] @ working @ each[s][0].T
            tt = each[t][0] @ working @ each[t][0].T
            variance += (st * st.T).sum() + (ss * tt).sum()
    eta = q * (q + 1) / variance
    return {"f": (eta - q + 1) / (eta * q) * t2, "f_dof": eta - q + 1}


def case(rng, kind):
    if kind == "rows":
        n, group = 18, np.repeat([0, 1, 2], 6)
        x = np.column_stack([np.ones(n), group == 1, group == 2, rng.normal(size=n)]).astype(float)
        clusters = np.arange(n)
    elif kind == "uneven":
        clusters = np.repeat(np.arange(7), [1, 2, 3, 4, 2, 5, 3])
        n = len(clusters)
        x = np.column_stack([np.ones(n), clusters % 2, rng.normal(size=n), rng.integers(0, 2, n)]).astype(float)
    else:  # blocks that have a column each
        clusters = np.repeat(np.arange(6), 4)
        n = len(clusters)
        level = np.tile(np.arange(4), 6)
        blocks = [(clusters == b) for b in range(1, 6)]
        x = np.column_stack([np.ones(n), *blocks, *[(level == k) for k in (1, 2, 3)]]).astype(float)
    # Where each block has its column, uneven weights inside it would leave part of the variance out (LOST).
    w = rng.uniform(0.5, 6, n) if kind != "blocks" else np.repeat(rng.uniform(0.5, 6, 6), 4)
    y = rng.normal(size=n) + 0.7 * rng.normal(size=clusters.max() + 1)[clusters]
    root = np.sqrt(w)
    b = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
    p = x.shape[1]
    unit = np.eye(p)
    names = range(p - 3, p) if kind == "blocks" else range(1, p)
    contrasts = unit[list(names)]
    both = contrasts[:2] if kind != "blocks" else contrasts
    e = y - x @ b
    return {
        "kind": kind,
        "x": x.T.tolist(),
        "weights": w.tolist(),
        "residuals": e.tolist(),
        "clusters": clusters.tolist(),
        "contrasts": contrasts.tolist(),
        "variances": [float(c @ cr2(x, w, e, clusters) @ c) for c in contrasts],
        "df": [float(satterthwaite(x, w, clusters, c)) for c in contrasts],
        "joint": both.tolist(),
        "estimates": (both @ b).tolist(),
        **{name: float(value) for name, value in hotelling(x, w, e, clusters, both, both @ b).items()},
    }


def model(rng):
    """Trays of a binomial model whose batches are the clusters: the working model is the binomial one at the fit."""
    batch = np.repeat(np.arange(8), [3, 4, 2, 5, 4, 3, 4, 3])
    n = len(batch)
    strength = rng.permutation(np.arange(n) % 3)
    stuck = rng.integers(12, 31, n)
    eta = -0.3 + np.array([0.0, 0.5, 0.9])[strength] + 0.6 * rng.normal(size=8)[batch] + 0.3 * rng.normal(size=n)
    rooted = rng.binomial(stuck, 1 / (1 + np.exp(-eta)))
    x = np.column_stack([np.ones(n), strength == 1, strength == 2]).astype(float)
    b = np.zeros(3)
    for _ in range(30):
        p = 1 / (1 + np.exp(-x @ b))
        w = stuck * p * (1 - p)
        b = b + np.linalg.solve(x.T @ (x * w[:, None]), x.T @ (rooted - stuck * p))
    p = 1 / (1 + np.exp(-x @ b))
    w, e = stuck * p * (1 - p), (rooted - stuck * p) / (stuck * p * (1 - p))
    unit = np.eye(3)
    return {
        "batch": batch.tolist(),
        "strength": strength.tolist(),
        "rooted": rooted.tolist(),
        "stuck": stuck.tolist(),
        "coef": b.tolist(),
        "se": [float(np.sqrt(c @ cr2(x, w, e, batch) @ c)) for c in unit],
        "df": [float(satterthwaite(x, w, batch, c)) for c in unit],
        **{name: float(value) for name, value in hotelling(x, w, e, batch, unit[1:], b[1:]).items()},
    }


def main():
    rng = np.random.default_rng(20_251_126)
    cases = [case(rng, kind) for kind in ("rows", "uneven", "blocks")]
    target = Path(__file__).parents[1] / "values" / "cluster_robust.json"
    found = {"made_with": f"numpy {np.__version__}", "cases": cases, "model": model(rng)}
    target.write_text(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
