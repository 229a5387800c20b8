"""Invented trials with units above the tray, and what Kenward and Roger (1997) make of their tray rates.

    python layered_rates.py               step 1 of 3: ../../data/layered/NAME.csv, one row per tray
    Rscript layered_rates.R DIR           step 2: REML fits, DIR/NAME.fit
    python layered_rates.py DIR           step 3: ../values/layered_rates.json

Needs numpy 2 (2.4.6); R 4.2.2 with lme4 1.1.31, pbkrtest 0.5.2, lmerTest 3.1.3, emmeans 1.8.4.1. Step 3 adds variance
components by Henderson's method 3: each unit's sum of squares is what its levels add to the fixed effects and all units
that do not lie within it, its expectation by traces of projections (Searle, Casella and McCulloch 1992, chapter 5).
Rates are rooted / stuck, unweighted; trays hold 25 cuttings each, so that weights would change nothing, but in
"uneven_trays".

The seeds of balanced designs are the first at which every component is above 0 (there REML and the analysis of variance
agree), those of the others the first of all.
"""

import csv
import itertools
import json
import pathlib
import sys

import numpy as np

HERE = pathlib.Path(__file__).parent
DATA = HERE.parent.parent / "data" / "layered"

# name: treatments (with the unit each was given to), units above the tray from the coarsest, balanced or not
DESIGNS = {
    "bays": ({"length": "bay", "strength": "tray"}, ["bay"], True),
    "two_bays_a_length": ({"length": "bay", "strength": "tray"}, ["bay"], True),
    "bays_in_blocks": ({"length": "bay", "strength": "tray"}, ["block", "bay"], True),
    "plants": ({"rootstock": "plant", "strength": "tray"}, ["plant"], True),
    "blocks_in_seasons": ({"strength": "tray"}, ["season", "block"], True),
    "bays_in_seasons": ({"length": "bay", "strength": "tray"}, ["season", "bay"], True),
    "plants_across_bays": ({"length": "bay", "rootstock": "plant"}, ["bay", "plant"], True),
    "bays_some_lost": ({"length": "bay", "strength": "tray"}, ["bay"], False),
    "plants_some_lost": ({"rootstock": "plant", "strength": "tray"}, ["plant"], False),
    "plants_across_bays_some_lost": ({"length": "bay", "rootstock": "plant"}, ["bay", "plant"], False),
    "rootstocks_across_bays": ({"length": "bay", "rootstock": "plant"}, ["bay", "plant"], True),
    "rootstocks_across_bays_some_lost": ({"length": "bay", "rootstock": "plant"}, ["bay", "plant"], False),
    "uneven_trays": ({"length": "bay", "strength": "tray"}, ["bay"], False),
}
ROOTSTOCKS = ["K12", "K17", "K30"]


SEASONS = [2022, 2023, 2024]
LENGTHS = {"bays": [3, 3], "two_bays_a_length": [2, 2], "bays_some_lost": [3, 2, 4], "uneven_trays": [3, 4]}
PLANTS = {"plants": [4, 4], "plants_some_lost": [3, 4, 5]}


def nested(unit, treatment, levels, counts, strengths):
    """Units numbered on, `counts` of them per level of a treatment, two trays of every strength in each."""
    owner = [level for level, count in zip(levels, counts, strict=False) for _ in range(count)]
    return [
        {unit: f"{unit} {at + 1}", treatment: level, "strength": strength}
        for at, level in enumerate(owner)
        for strength in strengths
        for _ in range(2)
    ]


def layout(name):
    """One dict per tray of the whole design, without counts."""
    if name in LENGTHS:
        return nested("bay", "length", [21, 35, 49], LENGTHS[name], [0, 1000, 3000])
    if name in PLANTS:
        return nested("plant", "rootstock", ROOTSTOCKS, PLANTS[name], [1000, 3000])
    if name == "bays_in_blocks":
        each = itertools.product("ABCD", [21, 35], [0, 1000, 3000], range(2))
        return [{"block": b, "bay": f"{b}{length}", "length": length, "strength": s} for b, length, s, _ in each]
    if name == "blocks_in_seasons":
        each = itertools.product(SEASONS, range(1, 4), [0, 1000, 3000, 6000], range(2))
        return [{"season": year, "block": f"{year} block {b}", "strength": s} for year, b, s, _ in each]
    if name == "bays_in_seasons":
        each = itertools.product(SEASONS, range(4), [0, 1000, 3000], range(2))
        return [
            {"season": year, "bay": f"{year} bay {b + 1}", "length": [21, 35][b // 2], "strength": s}
            for year, b, s, _ in each
        ]
    plants, each = (9, 3) if name.startswith("rootstocks") else (8, 4)
    return [
        {
            "bay": f"bay {b + 1}",
            "plant": f"plant {p + 1}",
            "length": [21, 35][b // 3],
            "rootstock": ROOTSTOCKS[p // each],
        }
        for b, p in itertools.product(range(6), range(plants))
    ]


def rows(name, rng):
    """One dict per tray that was read."""
    found = layout(name)
    if not name.endswith("some_lost"):
        return found
    keep = np.sort(rng.permutation(len(found))[: round(0.85 * len(found))])
    return [found[at] for at in keep]


def make(name, seed):
    rng = np.random.default_rng([4711, seed, *name.encode()])
    trays = rows(name, rng)
    eta = np.full(len(trays), 0.1) + 0.3 * rng.normal(size=len(trays))
    for unit in DESIGNS[name][1]:
        levels = sorted({str(tray[unit]) for tray in trays})
        effects = dict(zip(levels, 0.45 * rng.normal(size=len(levels)), strict=True))
        eta += np.array([effects[str(tray[unit])] for tray in trays])
    shift = {21: -0.4, 35: 0.3, 49: 0.5, "K12": -0.3, "K17": 0.5, "K30": 0.0}
    for at, tray in enumerate(trays):
        eta[at] += shift.get(tray.get("length"), 0.0) + shift.get(tray.get("rootstock"), 0.0)
        eta[at] += {0: -0.6, 1000: 0.2, 3000: 0.6, 6000: 0.1}.get(tray.get("strength"), 0.0)
    for tray, x in zip(trays, eta, strict=True):
        tray["stuck"] = int(rng.integers(10, 31)) if name == "uneven_trays" else 25
        tray["rooted"] = int(rng.binomial(tray["stuck"], 1 / (1 + np.exp(-x))))
    return trays


def indicators(columns):
    """One column per combination of levels."""
    keys = list(zip(*columns, strict=True))
    return np.array([[float(key == level) for level in sorted(set(keys))] for key in keys])


def span(*blocks):
    u, s, _ = np.linalg.svd(np.column_stack(blocks), full_matrices=False)
    return u[:, s > 1e-9 * s[0]]


def moments(name, trays):
    """Mean squares, degrees of freedom and components, units from the coarsest, then trays."""
    treatments, units, _ = DESIGNS[name]
    rate = np.array([tray["rooted"] / tray["stuck"] for tray in trays])
    fixed = indicators([[tray[one] for tray in trays] for one in treatments])
    z = {unit: indicators([[tray[unit] for tray in trays]]) for unit in units}

    def inside(inner, outer):
        return inner != outer and np.all((z[inner].T @ z[outer] > 0).sum(axis=1) == 1)

    def residual(blocks):
        q = span(fixed, *blocks)
        return np.eye(len(rate)) - q @ q.T

    forms = []
    for unit in units:
        others = [z[one] for one in units if one != unit and not inside(one, unit)]
        forms.append(residual(others) - residual([*others, z[unit]]))
    forms.append(residual(list(z.values())))
    df = [float(round(np.trace(form))) for form in forms]
    square = [float(rate @ form @ rate / d) for form, d in zip(forms, df, strict=True)]
    layers = [one @ one.T for one in z.values()] + [np.eye(len(rate))]
    system = np.array([[np.trace(form @ layer) / d for layer in layers] for form, d in zip(forms, df, strict=True)])
    names = [*units, "tray"]
    found = np.linalg.solve(system, square)
    return {
        "mean_square": dict(zip(names, square, strict=True)),
        "df": dict(zip(names, df, strict=True)),
        "component": dict(zip(names, map(float, found), strict=True)),
    }


def chosen(name):
    """The trays and their seed."""
    for seed in itertools.count(1):
        trays = make(name, seed)
        if not DESIGNS[name][2] or min(moments(name, trays)["component"].values()) > 1e-4:
            return trays, seed
    raise AssertionError


def finish(folder):
    cases = []
    for name, (treatments, units, balanced) in DESIGNS.items():
        trays, seed = chosen(name)
        case = {"name": name, "treatments": treatments, "units": units, "balanced": balanced, "seed": seed}
        case["anova"] = moments(name, trays)
        for line in (folder / f"{name}.fit").read_text().splitlines():
            scale, what, label, *values = line.split(";")
            case.setdefault(scale, {}).setdefault(what, {})[label] = [float(value) for value in values]
        cases.append(case)
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    made = (
        "R 4.2.2, lme4 1.1.31 (REML), pbkrtest 0.5.2 and lmerTest 3.1.3 (Kenward-Roger), emmeans 1.8.4.1; "
        "numpy 2.4.6 (anova). test: F, df, error df, P; mean and contrast: estimate, standard error, df, lower and "
        "upper 95 % limit, P (contrasts); component: REML variance"
    )
    out = HERE.parent / "values" / "layered_rates.json"
    out.write_text('{"made_with": ' + json.dumps(made) + ',\n"cases": [\n' + lines + "\n]}\n")


def write():
    DATA.mkdir(parents=True, exist_ok=True)
    for name, (treatments, units, _) in DESIGNS.items():
        trays, _ = chosen(name)
        with (DATA / f"{name}.csv").open("w", newline="") as file:
            out = csv.writer(file, lineterminator="\n")
            columns = [*units, *treatments]
            out.writerow([*columns, "tray", "rooted", "stuck"])
            for at, tray in enumerate(trays):
                out.writerow([*(tray[column] for column in columns), at + 1, tray["rooted"], tray["stuck"]])


if __name__ == "__main__":
    if len(sys.argv) > 1:
        finish(pathlib.Path(sys.argv[1]))
    else:
        write()
