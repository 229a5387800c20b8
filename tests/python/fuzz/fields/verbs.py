"""Every question to trials and models, with sound and unsound choices; rows in another order say the same."""

from __future__ import annotations

import random
from typing import Any

import rootling as rl

from fuzz import draw
from fuzz.fields import trials
from fuzz.fields.counts import level
from fuzz.figures import first_change
from fuzz.oracle import Oracle

LEVELS: dict[str, list[Any]] = {"confidence": [0.8, 0.9, 0.99]}
OUTCOME = {"outcome": ["take", "survival", "rooted-of-survivors"]}
IGNORE = {"trays": ["auto", "ignore"]}
AT = {"at": [{}, {"rootstock": "K12"}, {"strength": 0}, {"length": 12}, {"length": 1e6}, {"bench": "B1"}, {"x": 1}]}
CHOICES: dict[str, dict[str, list[Any]]] = {
    "take_rates": {"by": ["strength", ["strength", "rootstock"], "bench", []], **LEVELS, **IGNORE, **OUTCOME}
    | {"method": ["wilson", "blaker", "clopper-pearson"]},
    "compare": {"margin": [0.1, 0.3], "method": ["newcombe", "exact"], "nearly": [0.05, 0.5], **AT, **LEVELS, **IGNORE}
    | OUTCOME,
    "compare_all": {"together": ["holm", "sidak", "none"], "against": [0, 500], **AT, **LEVELS, **IGNORE, **OUTCOME},
    "association": {"within": ["bench", "rootstock"], "method": ["donner", "rao-scott", "score", "randomisation"]}
    | IGNORE
    | OUTCOME,
    "trend": {"scores": [{0: 1, 500: 2, 1000: 3}], **LEVELS, **IGNORE, **OUTCOME},
    "tray_correlation": {"method": ["anova", "beta-binomial"], **LEVELS},
    "strength_curve": {"shape": ["flat", "straight", "rising", "falling", "hump", "brain-cousens"]}
    | {"within": ["rootstock", "bench"], "trays": ["dispersion", "ignore"], "nearly": [0.02, 0.2], **AT, **LEVELS},
    "damage_threshold": {"within": ["rootstock"], "rise": [0.01, 0.2], **AT, **LEVELS, **IGNORE},
    "response_surface": {"darkness": ["length", "bench", "rootstock"], **AT, **LEVELS},
    "model": {"trays": ["effective", "dispersion", "beta-binomial", "random", "robust", "ignore"]}
    | {
        "link": ["probit", "complementary-log-log", "log-log"],
        "interactions": [[("strength", "rootstock")]],
        "penalised": [True],
    }
    | {"numeric": ["strength"], "polynomials": [{"length": 2}, {"strength": 3}], "random": ["bench"]}
    | {"reference": [{"strength": 500}, {"rootstock": "K17"}], "correlation_by": ["rootstock"], **OUTCOME, **LEVELS},
}
BY = {
    "within": ["rootstock"],
    "average": ["alike", "as-stuck"],
    "rate_of": ["all-trays", "typical-tray"],
    **AT,
    **LEVELS,
}
AFTER: dict[str, dict[str, list[Any]]] = {
    "what_matters": {"test": ["likelihood-ratio", "score", "small-sample-score", "wald"]},
    "odds_ratios": LEVELS,
    "coefficients": LEVELS,
    "adjusted_rates": BY,
    "letters": BY | {"order": ["ascending"], "together": ["holm", "tukey-kramer", "none"]},
    "contrasts": BY
    | {"pattern": ["control", "steps", "trend"], "scale": ["ratio", "odds"], "margin": [0.1]}
    | {"together": ["dunnett", "scheffe", "holm"], "changing_with": ["rootstock"], "against": [0]},
    "predict": {"new_tray": [1, 20, 500], "rate_of": ["typical-tray"], **LEVELS},
    "checks": {"groups": [3, 10], "refit": [True, False]},
    "bootstrap_test": {"draws": [99]},
    "against": {},
}
ROW_BOUND = {"checks", "bootstrap_test"}


def chosen(rng: random.Random, choices: dict[str, list[Any]], often: float, unsound: float) -> dict[str, Any]:
    """Some options, mostly sound."""
    found = {}
    for name, values in choices.items():
        if rng.random() < unsound:
            found[name] = level(rng) if name == "confidence" else draw.silly(rng)
        elif rng.random() < often:
            found[name] = rng.choice(values)
    return found


def question(look: Oracle, design: trials.Design, unsound: float = 0.01) -> tuple[str, tuple[Any, ...], dict[str, Any]]:
    """A question to the trial: its name, what it is asked of, its options."""
    rng = look.rng
    name = rng.choice([*CHOICES, "model", "model", "model", "compare", "take_rates"])
    treatment = rng.choice(design.treatments) if rng.random() > unsound else draw.name(rng, 0.5)
    given: tuple[Any, ...] = ()
    if name in ("compare_all", "association", "trend"):
        given = (treatment,)
    elif name == "compare":
        known = design.levels(treatment) if treatment in design.columns else [0]
        given = (
            treatment,
            rng.choice(known or [0]),
            rng.choice(known or [0]) if rng.random() > unsound else draw.silly(rng),
        )
    elif name == "model":
        effects = list(design.treatments)
        effects += ["length"] if rng.random() < 0.2 else []
        effects += ["bench"] if rng.random() < 0.15 else []
        given = (effects if rng.random() > unsound else draw.silly(rng),)
    return name, given, chosen(rng, CHOICES[name], 0.15, unsound)


def after(look: Oracle, model: Any, design: trials.Design, unsound: float = 0.01) -> None:
    """A question to a fitted model."""
    rng = look.rng
    name = rng.choice(list(AFTER))
    given: tuple[Any, ...] = ()
    if name in ("adjusted_rates", "letters", "contrasts", "bootstrap_test"):
        given = (rng.choice(design.treatments) if rng.random() > unsound else draw.silly(rng),)
    elif name == "predict":
        rows = {n: design.columns[n][:4] for n in (*design.treatments, "length", "bench") if n in design.columns}
        if rng.random() < 0.2:
            rows[rng.choice(list(rows))] = [draw.entry(rng) for _ in range(rng.randrange(5))]
        given = (rows if rng.random() > unsound else draw.silly(rng),)
    elif name == "against":
        given = (model if rng.random() > 0.3 else draw.silly(rng),)
    look.call(getattr(model, name), *given, **chosen(rng, AFTER[name], 0.15, unsound))


def after_curve(look: Oracle, curve: Any, unsound: float = 0.03) -> None:
    rng = look.rng
    name = rng.choice(["differences", "next_strengths", "strength_for", "levels", "parameters", "shapes"])
    if name == "strength_for":
        look.call(curve.strength_for, rng.choice([0.1, 0.5, 0.9, 0, 1, rng.random(), draw.silly(rng)]))
    elif name == "next_strengths":
        choices = {"trays": [10, 40], "cuttings": [1, 20], "strengths": [3, 5]}
        look.call(curve.next_strengths, **chosen(rng, choices, 0.4, unsound))
    else:
        look.call(getattr(curve, name))


def ask(look: Oracle, trial: Any, design: trials.Design, unsound: float = 0.01) -> None:
    """One question to a trial, and one to what it gives."""
    name, given, options = question(look, design, unsound)
    found = look.call(getattr(trial, name), *given, **options)
    if found is None:
        return
    if name == "model":
        after(look, found, design, unsound)
    elif name == "strength_curve":
        after_curve(look, found, unsound)
    if look.rng.random() < 0.2:
        in_another_order(look, design, name, (given, options), found)


def in_another_order(look: Oracle, design: trials.Design, name: str, said: tuple[Any, Any], found: Any) -> None:
    given, options = said
    frame = design.frame.sample(fraction=1.0, shuffle=True, seed=look.rng.randrange(10**6))
    other = look.guarded(lambda: getattr(rl.load_trial(frame, **design.roles), name)(*given, **options))
    if other is None:
        look.fail("row order", f"{name} is refused in another order of rows")
    elif other.to_json() != found.to_json():
        look.fail(
            "row order", f"{name} differs in another order of rows", first_change(found.to_dict(), other.to_dict())
        )


def run(look: Oracle) -> None:
    design = trials.make(look.rng)
    trial = look.call(rl.load_trial, design.frame, **design.roles)
    if trial is not None:
        for _ in range(2):
            ask(look, trial, design)
