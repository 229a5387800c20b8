"""Generated trials with nested and crossed groupings, and their fits by lme4 and glmmTMB. Step 1 of 3: the data.

    python mixed_layers.py DIR            writes DIR/NN.csv, one row per tray
    Rscript mixed_layers.R DIR            step 2: fits, DIR/NN.fit
    python mixed_layers.py DIR finish     step 3: ../values/mixed_layers.json

Needs numpy 2, scipy 1.17; R with lme4 1.1.31 and glmmTMB 1.1.5. The log-likelihoods of both (Laplace's approximation)
hold the binomial coefficients. For trays in bays step 3 also maximises the likelihood itself, both integrals taken by
equal steps of 0.2 over 8 standard deviations each way, which leaves an error below 1e-10.
"""

import csv
import json
import pathlib
import sys

import numpy as np
from scipy.optimize import minimize
from scipy.special import gammaln, log_expit, logsumexp

KINDS = ["nested", "nested, uneven", "crossed", "crossed, few cells", "three layers", "nested and crossed"]
COUNT = 48


def groups(kind, rng):
    """Levels of each grouping per tray."""
    if kind.startswith("nested,") or kind == "nested":
        bays = int(rng.integers(5, 12))
        sizes = rng.integers(2, 9, bays) if "uneven" in kind else np.full(bays, int(rng.integers(3, 8)))
        return {"bay": np.repeat(np.arange(bays), sizes)}
    if kind.startswith("crossed"):
        rows, columns = int(rng.integers(4, 8)), int(rng.integers(5, 9))
        cells = np.array([(r, c) for r in range(rows) for c in range(columns)])
        if "few" in kind:
            cells = cells[np.sort(rng.permutation(len(cells))[: 2 * len(cells) // 3])]
        return {"row": cells[:, 0], "column": cells[:, 1]}
    batches, bays, trays = 4, 3, int(rng.integers(3, 6))
    n = batches * bays * trays
    found = {"batch": np.arange(n) // (bays * trays), "bay": np.arange(n) // trays}
    if "crossed" in kind:
        found = {"bay": found["bay"], "plant": (5 * np.arange(n) + np.arange(n) // 7) % 6}
    return found


def make(index):
    rng = np.random.default_rng(1000 + index)
    kind = KINDS[index % len(KINDS)]
    found = groups(kind, rng)
    n = len(next(iter(found.values())))
    strength = np.arange(n) % int(rng.integers(2, 4))
    eta = float(rng.normal(0, 0.6)) + strength * float(rng.normal(0, 0.5)) + 0.5 * rng.normal(size=n)
    for levels in found.values():
        eta = eta + float(rng.choice([0.0, 0.4, 0.9])) * rng.normal(size=levels.max() + 1)[levels]
    stuck = rng.integers(8, 31, n)
    rooted = rng.binomial(stuck, 1 / (1 + np.exp(-eta)))
    return {
        "kind": kind,
        "strength": strength.tolist(),
        "rooted": rooted.tolist(),
        "stuck": stuck.tolist(),
        "groups": {name: levels.tolist() for name, levels in found.items()},
    }


def integrated(case, start):
    """The largest likelihood of trays in bays: coefficients, SDs of bays and trays, log-likelihood."""
    y, m = np.array(case["rooted"], float), np.array(case["stuck"], float)
    code, bay = np.array(case["strength"]), np.array(case["groups"]["bay"])
    x = np.column_stack([np.ones(len(y))] + [(code == k).astype(float) for k in range(1, code.max() + 1)])
    z = np.arange(-40, 41) * 0.2
    weight = -0.5 * z**2 + np.log(0.2 / np.sqrt(2 * np.pi))
    constant = np.sum(gammaln(m + 1) - gammaln(y + 1) - gammaln(m - y + 1))

    def loss(at):
        eta = (x @ at[:-2])[:, None, None] + at[-2] * z[None, :, None] + at[-1] * z[None, None, :]
        logs = y[:, None, None] * log_expit(eta) + (m - y)[:, None, None] * log_expit(-eta) + weight
        trays = logsumexp(logs, axis=2)
        bays = np.stack([trays[bay == k].sum(axis=0) for k in range(bay.max() + 1)])
        return -(constant + logsumexp(bays + weight, axis=1).sum())

    def slope(at):
        steps = 1e-4 * np.eye(len(at))
        return np.array([(loss(at + step) - loss(at - step)) / 2e-4 for step in steps])

    best = minimize(loss, start, jac=slope, method="BFGS", options={"gtol": 1e-7})
    return [*best.x[:-2], *np.abs(best.x[-2:]), -best.fun]


def finish(folder):
    cases = []
    for index in range(COUNT):
        case = make(index)
        lines = (folder / f"{index:02d}.fit").read_text().splitlines()
        for line in lines:
            name, *values = line.split(",")
            case[name] = [float(value) for value in values]
        if case["kind"].startswith("nested") and "crossed" not in case["kind"]:
            tray, bay = case["sd"]
            case["integrated"] = integrated(case, [*case["coef"], max(bay, 0.2), max(tray, 0.2)])
        cases.append(case)
    out = pathlib.Path(__file__).parent.parent / "values" / "mixed_layers.json"
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    made = "lme4 1.1.31 (the better of two searches) and glmmTMB 1.1.5, R; integrated: numpy and scipy 1.17.1"
    out.write_text('{"made_with": ' + json.dumps(made) + ',\n"cases": [\n' + lines + "\n]}\n")


def main(folder):
    folder.mkdir(parents=True, exist_ok=True)
    for index in range(COUNT):
        case = make(index)
        with (folder / f"{index:02d}.csv").open("w", newline="") as file:
            out = csv.writer(file)
            names = list(case["groups"])
            out.writerow(["rooted", "stuck", "strength", "tray", *names])
            for i in range(len(case["rooted"])):
                row = [case["rooted"][i], case["stuck"][i], case["strength"][i], i]
                out.writerow(row + [case["groups"][name][i] for name in names])


if __name__ == "__main__":
    place = pathlib.Path(sys.argv[1])
    if len(sys.argv) > 2:
        finish(place)
    else:
        main(place)
