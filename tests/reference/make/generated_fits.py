"""200 generated models and the fits of other programs to them.

    python generated_fits.py DIR          step 1: cases, and DIR/caseNNN.csv for those that need a penalty
    Rscript generated_fits.R DIR          step 2: penalised fits by brglm2
    python generated_fits.py DIR finish   step 3: fits by statsmodels beside them in ../values/generated_fits.json

The cases are made from whole numbers by a small generator that tests/rust/models/generated.rs repeats, so that the file
holds the fits alone. Needs numpy 2, scipy 1.17, statsmodels 0.15; R 4.2 with brglm2 0.9.
"""

import csv
import json
import pathlib
import sys
import warnings

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy.optimize import linprog
from scipy.special import gammaln

LINKS = ["logit", "probit", "cloglog", "loglog"]
KINDS = [
    "balanced",
    "unbalanced",
    "near separated",
    "separated",
    "covariate",
    "polynomial",
    "interaction",
    "offset",
    "weights",
    "many",
]
SIZES = [4, 6, 9, 12, 20, 40, 80, 160, 400, 2000]
WEIGHTS = [0.0, 0.5, 1.0, 2.0, 3.25]


class Draws:
    """A linear congruential generator of 64 bits (Knuth's multiplier)."""

    def __init__(self, seed):
        self.state = seed

    def below(self, limit):
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (self.state >> 33) % limit


def make(index):
    """One case: counts, levels and numbers per tray."""
    draws = Draws(index + 1)
    kind, repeat = KINDS[index % 10], index // 10
    n = SIZES[repeat % 10]
    levels = [2 + draws.below(4), 2 + draws.below(3)]
    if kind == "many":
        levels, n = [8, 5], max(n, 80)
    shift = [0, 50, -3][repeat % 3]
    case = {"index": index, "kind": kind, "link": LINKS[(index + repeat) % 4], "levels": levels}
    case |= {"penalised": kind == "many" and repeat % 2 == 1, "degree": 2 + repeat % 2}
    rows = {name: [] for name in ("a", "b", "x", "o", "w", "rooted", "stuck")}
    effects = [[draws.below(400) for _ in range(size)] for size in levels]
    for tray in range(n):
        a = tray % levels[0] if kind != "unbalanced" else draws.below(levels[0])
        b = tray // levels[0] % levels[1]
        step = draws.below(2001)
        stuck = 20 if kind in ("balanced", "many") else 1 + draws.below(40)
        rate = min(max(100 + effects[0][a] + effects[1][b] + (step - 1000) // 10, 30), 970)
        rooted = sum(draws.below(1000) < rate for _ in range(stuck))
        if kind in ("separated", "near separated") and a == levels[0] - 1:
            rooted = stuck if kind == "separated" or tray >= levels[0] else stuck - 1
        rows["a"].append(a)
        rows["b"].append(b)
        rows["x"].append((step - 1000) / 100.0 + shift)
        rows["o"].append((draws.below(201) - 100) / 100.0)
        rows["w"].append(WEIGHTS[draws.below(5)])
        rows["rooted"].append(rooted)
        rows["stuck"].append(stuck)
    return case | {name: np.array(values, float) for name, values in rows.items()}


def indicators(codes):
    """A column for each level that occurs but the first."""
    return [(codes == level).astype(float) for level in np.unique(codes)[1:]]


def design(case):
    """The columns of the model in its order, on the user's scale."""
    kind, x = case["kind"], case["x"]
    a, b = indicators(case["a"]), indicators(case["b"])
    columns = [np.ones(len(x)), *a]
    if kind not in ("covariate", "polynomial", "offset"):
        columns += b
    if kind not in ("balanced", "unbalanced", "near separated", "separated", "many"):
        columns.append(x)
    if kind == "polynomial":
        columns += [x**power for power in range(2, case["degree"] + 1)]
    if kind == "interaction":
        columns += [one * two for one in a for two in b] + [one * x for one in a]
    if kind == "many":
        columns += [one * two for one in a for two in b]
    return columns


def independent(columns):
    """The columns that are no combination of those before them."""
    kept, basis = [], []
    for column in columns:
        left = column.astype(np.longdouble)
        for _ in range(2):
            for q in basis:
                left = left - (q @ left) * q
        size = np.sqrt(left @ left)
        if size > 1e-9 * np.sqrt(column @ column) and size > 0:
            kept.append(column)
            basis.append(left / size)
    return np.column_stack(kept)


def counts(case):
    """What enters: design, counts, offset and weights of the trays with a weight above 0."""
    weights = case["w"] if case["kind"] == "weights" else np.ones(len(case["w"]))
    keep = weights > 0
    part = {name: case[name][keep] for name in ("a", "b", "x", "o", "rooted", "stuck")}
    x = independent(design(case | part))
    offset = part["o"] if case["kind"] == "offset" else np.zeros(keep.sum())
    return x, part["rooted"], part["stuck"], offset, weights[keep]


def one_level(case):
    """True when a factor of the model has a single level among the trays that enter, so that it would be refused."""
    keep = case["w"] > 0 if case["kind"] == "weights" else np.ones(len(case["w"]), bool)
    used = ["a"] if case["kind"] in ("covariate", "polynomial", "offset") else ["a", "b"]
    numbers = 1 if case["kind"] != "polynomial" else case["degree"]
    return any(len(np.unique(case[name][keep])) < 2 for name in used) or len(np.unique(case["x"][keep])) <= numbers


def separated(x, y, m):
    """True when some coefficients let the likelihood rise without end: a linear programme."""
    sign = np.where(y == m, 1.0, np.where(y == 0, -1.0, 0.0))
    scaled = x / np.abs(x).max(axis=0)
    ends, middle = sign != 0, sign == 0
    outward = scaled[ends] * sign[ends, None]
    equal = {"A_eq": scaled[middle], "b_eq": np.zeros(middle.sum())} if middle.any() else {}
    if not ends.any():
        return False
    found = linprog(-outward.sum(axis=0), A_ub=-outward, b_ub=np.zeros(ends.sum()), bounds=(-1, 1), **equal)
    return bool(-found.fun > 1e-7)


def loglik(link, eta, y, m, w):
    """Log-likelihood with binomial coefficients."""
    p = np.clip(link.inverse(eta), 1e-300, 1 - 1e-16)
    constant = gammaln(m + 1) - gammaln(y + 1) - gammaln(m - y + 1)
    kernel = np.where(y > 0, y * np.log(p), 0) + np.where(m > y, (m - y) * np.log1p(-p), 0)
    return float(np.sum(w * (constant + kernel)))


def plain(case):
    """Maximum likelihood by statsmodels, on columns made orthogonal and turned back."""
    links = sm.families.links
    link = {"logit": links.Logit(), "probit": links.Probit(), "cloglog": links.CLogLog(), "loglog": links.LogLog()}
    link = link[case["link"]]
    x, y, m, offset, w = counts(case)
    q, r = np.linalg.qr(x / np.abs(x).max(axis=0))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = sm.GLM(np.column_stack([y, m - y]), q, sm.families.Binomial(link), offset=offset, freq_weights=w)
        fit = model.fit(tol=1e-13, tol_criterion="params", maxiter=500)
    coef = np.linalg.solve(r, fit.params) / np.abs(x).max(axis=0)
    return {"coef": coef.tolist(), "loglik": loglik(link, q @ fit.params + offset, y, m, w)}


def usable():
    return [case for case in map(make, range(240)) if not one_level(case)][:200]


def prepare(folder):
    folder.mkdir(parents=True, exist_ok=True)
    for case in usable():
        x, y, m, offset, w = counts(case)
        if not (case["penalised"] or separated(x, y, m)):
            continue
        # R has no log-log link: it is the complementary log-log of those that did not root, with its sign turned.
        turned = case["link"] == "loglog"
        with (folder / f"case{case['index']:03d}.csv").open("w", newline="") as file:
            out = csv.writer(file)
            out.writerow(["cloglog" if turned else case["link"]])
            out.writerow(["y", "m", "w", "o", *(f"x{j}" for j in range(x.shape[1]))])
            for row in zip(m - y if turned else y, m, w, -offset if turned else offset, *x.T, strict=True):
                out.writerow([repr(float(value)) for value in row])


def finish(folder):
    fits = []
    for case in usable():
        known = {key: case[key] for key in ("index", "kind", "link")}
        file = folder / f"case{case['index']:03d}.fit"
        if file.exists():
            lines = dict(line.split(",", 1) for line in file.read_text(encoding="ascii").splitlines())
            sign = -1 if case["link"] == "loglog" else 1
            coef = [sign * float(value) for value in lines["coef"].split(",")]
            known |= {"penalised": True, "coef": coef, "loglik": float(lines["loglik"])}
        else:
            known |= {"penalised": False} | plain(case)
        fits.append(known)
    source = (
        f"maximum likelihood: statsmodels {statsmodels.__version__} GLM (numpy {np.__version__}, scipy "
        f"{scipy.__version__}); penalised: R 4.2.2, brglm2 0.9, type MPL_Jeffreys"
    )
    target = pathlib.Path(__file__).parents[1] / "values" / "generated_fits.json"
    lines = ",\n".join(json.dumps(fit) for fit in fits)
    target.write_text(f'{{"source": {json.dumps(source)},\n"fits": [\n{lines}\n]}}\n', encoding="utf-8")


if __name__ == "__main__":
    (finish if "finish" in sys.argv[2:] else prepare)(pathlib.Path(sys.argv[1]))
