"""Options that cannot be: of loading, of every question, of strengths and units, of reports."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import rootling as rl

from fuzz import draw
from fuzz.fields import trials, verbs
from fuzz.oracle import Oracle

LOAD = ["rooted", "stuck", "dead", "treatments", "tray", "block", "whole_plot", "season", "stock_plant", "covariates"]
LOAD += ["strength", "control", "level_order", "rooted_percent", "wide", "fill_down", "lost", "leave_out", "sheet"]
LOAD += ["responses", "primary"]
LOAD += ["header_row", "thousands", "decimal", "encoding", "checked", "bad_rows", "distinct_levels", "earlier"]
UNITS = ["mg/L", "g/L", "ppm w/v", "ppm w/w", "mg/kg", "%", "% w/v", "mM", "ppm"]
CURVE = {
    "zero_scale": [1.0],
    "enough": [0.9],
    "common": ["rootstock"],
    "blocks": ["spread"],
    "draws": [99],
    "seed": [2],
}
MORE = {"offset": ["length"], "weights": ["length"], "robust_by": ["bench"]}
METHODS = ["quick dip", "soak", "talc", "paste", None]


def loading(look: Oracle) -> None:
    rng = look.rng
    design = trials.make(rng)
    options = dict(design.roles)
    for _ in range(rng.choice([1, 1, 2, 3])):
        name = rng.choice(LOAD)
        options[name] = draw.silly(rng) if rng.random() < 0.7 else rng.choice(list(design.columns))
    if rng.random() < 0.03:
        options[draw.name(rng, 0.3)] = draw.silly(rng)
    trial = look.call(rl.load_trial, rng.choice([design.columns, design.frame]), **options)
    if trial is not None and rng.random() < 0.3:
        # As it was loaded, so that it can be loaded again.
        verbs.ask(look, trial, replace(design, roles=options))


def asking(look: Oracle) -> None:
    rng = look.rng
    design = trials.make(rng)
    trial = look.guarded(lambda: rl.load_trial(design.frame, **design.roles))
    if trial is None:
        return
    name, given, options = verbs.question(look, design, 0.25)
    more = CURVE if name == "strength_curve" else MORE if name == "model" else {}
    options |= verbs.chosen(rng, more, 0.1, 0.15)
    if "seed" not in options and name in ("compare", "compare_all", "association", "trend") and rng.random() < 0.2:
        options["seed"] = draw.silly(rng)
    found = look.call(getattr(trial, name), *given, **options)
    if found is not None and name == "model":
        verbs.after(look, found, design, 0.25)
    elif found is not None and name == "strength_curve":
        verbs.after_curve(look, found, 0.3)


def of_strengths(look: Oracle) -> None:
    rng = look.rng
    said: dict[str, Any] = {"unit": rng.choice(UNITS), "method": rng.choice(METHODS)}
    said |= verbs.chosen(rng, {"carrier": ["50 % ethanol"], "molar_mass": [203.24], "column": ["dose"]}, 0.2, 0.1)
    if rng.random() < 0.3:
        said[rng.choice(["unit", "method"])] = draw.silly(rng)
    substance = rng.choice(["IBA", "K-IBA", "NAA", "other"]) if rng.random() < 0.8 else draw.silly(rng)
    strength = look.call(rl.Strength, substance, **said)
    value = rng.choice([0, 2500, 0.25, 1e6, -1, draw.silly(rng)])
    if strength is not None:
        function = rng.choice([rl.units.convert, rl.units.equivalent, rl.units.plausibility])
        second = [rng.choice([*UNITS, draw.silly(rng)])] if function is rl.units.convert else [substance]
        look.call(function, value, strength, *([] if function is rl.units.plausibility else second))
    if rng.random() < 0.5:
        text = rng.choice(["2500 mg/L", "0,25 %", "1e400 g/L", "2.500 ppm", "3000", "-5 mM", "½ g/L", draw.silly(rng)])
        look.call(rl.units.parse, text if rng.random() < 0.8 else draw.name(rng, 0.9))


def demos(look: Oracle) -> None:
    maker = look.rng.choice([rl.demo.two_strengths, rl.demo.factorial, rl.demo.strengths])
    look.call(maker, look.rng.randrange(10**6))


def run(look: Oracle) -> None:
    look.rng.choices([loading, asking, of_strengths, demos], [4, 5, 2, 0.1])[0](look)
