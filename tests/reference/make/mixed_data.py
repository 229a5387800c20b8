"""Small trials with trays, some in bays, and fits of other programs to them. Step 1 of 3: data and binomial fits.

    python mixed_data.py DIR          writes DIR/cases.json and one CSV per case for mixed_peers.R
    Rscript mixed_peers.R DIR         step 2: random intercepts by lme4
    python mixed_finish.py DIR        step 3: beta-binomial by scipy, quadrature by numpy; writes ../values/mixed.json

Needs numpy 2, scipy 1.17, statsmodels 0.15; R with lme4 1.1.31.
"""

import csv
import json
import pathlib
import sys
import warnings

import numpy as np
import statsmodels.api as sm
from scipy.special import gammaln

KINDS = [
    "balanced",
    "unbalanced",
    "near separated",
    "separated",
    "covariate",
    "two factors",
    "tiny",
    "nested",
    "crossed",
]
LINKS = ["logit", "probit", "cloglog", "loglog"]


def treatments(rng, kind, n):
    """Design columns and true coefficients."""
    levels = int(rng.integers(2, 5)) if kind != "tiny" else 2
    code = np.arange(n) % levels if kind != "unbalanced" else np.sort(rng.integers(0, levels, n))
    code[:levels] = np.arange(levels)
    columns = [np.ones(n)] + [(code == k).astype(float) for k in range(1, levels)]
    beta = [float(rng.normal(0, 0.7))] + [float(rng.normal(0, 0.8)) for _ in range(1, levels)]
    if kind == "covariate":
        columns.append(np.round(rng.normal(0, 1, n), 3))
        beta.append(0.5)
    if kind == "two factors":
        other = (rng.permutation(n) % 2).astype(float)
        columns += [other, other * columns[1]]
        beta += [0.6, -0.4]
        if np.linalg.matrix_rank(np.column_stack(columns)) < len(columns):
            columns.pop()
            beta.pop()
    return columns, beta, code


def make(seed):
    rng = np.random.default_rng(seed)
    kind = KINDS[seed % len(KINDS)]
    n = {"tiny": 4}.get(kind, int(rng.integers(8, 40)))
    if seed in (109, 110, 112):
        n = 2000 if seed == 109 else 400
    columns, beta, code = treatments(rng, kind, n)
    x = np.column_stack(columns)
    stuck = np.full(n, int(rng.integers(5, 30))) if kind == "balanced" else rng.integers(2, 40, n)
    spread = float(rng.choice([0.0, 0.3, 0.8, 1.4]))
    bays = max(3, n // 6)
    bay = np.sort(np.arange(n) % bays) if kind == "nested" else (np.arange(n) // max(1, n // bays)) % bays
    eta = x @ np.array(beta) + spread * rng.normal(size=n)
    if kind in ("nested", "crossed"):
        eta = eta + 0.6 * rng.normal(size=bays)[bay]
    rooted = rng.binomial(stuck, 1 / (1 + np.exp(-eta)))
    if kind in ("separated", "near separated"):
        last = code == code.max()
        rooted[last] = stuck[last]
        if kind == "near separated":
            rooted[np.flatnonzero(last)[0]] -= 1
    case = {
        "id": f"{kind} {seed}",
        "kind": kind,
        "link": LINKS[(seed // len(KINDS)) % 4] if kind != "crossed" else "logit",
    }
    case |= {"x": x.T.tolist(), "rooted": rooted.tolist(), "stuck": stuck.tolist()}
    if kind == "nested":
        case["bay"] = bay.tolist()
    if kind == "crossed":
        case["bay"] = (np.arange(n) % 4).tolist()
        case["row"] = ((np.arange(n) // 4) % 5).tolist()
    return case


def binomial(case):
    """Binomial fit by statsmodels: coefficients and log-likelihood with binomial coefficients."""
    links = sm.families.links
    link = {"logit": links.Logit(), "probit": links.Probit(), "cloglog": links.CLogLog(), "loglog": links.LogLog()}
    y, m = np.array(case["rooted"], float), np.array(case["stuck"], float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = sm.GLM(np.column_stack([y, m - y]), np.array(case["x"]).T, sm.families.Binomial(link[case["link"]]))
        fit = model.fit(tol=1e-14, maxiter=300)
    p = np.clip(fit.fittedvalues, 1e-300, 1 - 1e-16)
    constant = gammaln(m + 1) - gammaln(y + 1) - gammaln(m - y + 1)
    kernel = np.where(y > 0, y * np.log(p), 0) + np.where(m > y, (m - y) * np.log1p(-p), 0)
    return {"coef": fit.params.tolist(), "se": fit.bse.tolist(), "loglik": float(np.sum(constant + kernel))}


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    cases = [make(seed) for seed in range(117)]
    for index, case in enumerate(cases):
        case["binomial"] = binomial(case)
        with (folder / f"case{index:03d}.csv").open("w", newline="") as file:
            out = csv.writer(file)
            n = len(case["rooted"])
            bay, row = case.get("bay", range(n)), case.get("row", range(n))
            out.writerow(["rooted", "stuck", "tray", "bay", "row"] + [f"x{j}" for j in range(len(case["x"]))])
            for i in range(n):
                out.writerow([case["rooted"][i], case["stuck"][i], i, bay[i], row[i]] + [c[i] for c in case["x"]])
        (folder / f"case{index:03d}.kind").write_text(f"{case['kind']},{case['link']}")
    (folder / "cases.json").write_text(json.dumps(cases))


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
