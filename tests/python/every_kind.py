"""A result of every kind, made as users make them: what faces are tried on."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from typing import Any

import rootling as rl
from rootling._results import Result

PLAIN: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "bench"}
IBA = rl.Strength("IBA", unit="mg/L", method="quick dip")
PAIR = [[12, 8], [6, 14]]
TABLES = [[[156, 84], [84, 156]], [[107, 133], [31, 209]]]
ROOTS = [0, 2, 0, 3, 1, 5, 0, 4, 2, 0, 3, 1, 4, 6, 3, 5, 8, 0, 7, 2, 5, 4, 9, 0]
LENGTHS = [8.0, 9.5, 8.5, 9.0, 8.0, 10.0, 9.0, 9.5] * 3
DRAWS: dict[str, Any] = {"draws": 200, "correlation": (0.01, 0.05)}


@cache
def several() -> rl.Trial:
    """Three treatments in blocks, with a strength that has its unit."""
    columns = ["strength", "dark_days", "rootstock"]
    return rl.load_trial(rl.demo.factorial(seed=1), **PLAIN, treatments=columns, strength=IBA)


@cache
def model() -> rl.models.Model:
    """A model of them, with an interaction."""
    return several().model(["strength", "dark_days", "rootstock"], interactions=[("strength", "rootstock")])


@cache
def measured() -> rl.Trial:
    """Two strengths in blocks, with the roots of every cutting."""
    rows: dict[str, list[Any]] = {"strength": [], "bench": [], "tray": [], "rooted": [], "roots": []}
    for tray in range(12):
        for cutting in range(10):
            strength = (0, 2500)[tray % 2]
            rooted = (7 * cutting + 3 * tray) % 10 < (3 if strength == 0 else 6) + tray % 3
            roots = 1 + (cutting * cutting + tray) % (3 if strength == 0 else 7)
            values = (strength, "ABC"[tray // 4], f"t{tray}", int(rooted), roots if rooted else 0)
            for name, value in zip(rows, values, strict=True):
                rows[name].append(value)
    responses = {"roots": rl.responses.count()}
    roles: dict[str, Any] = {"rooted": "rooted", "treatments": "strength", "tray": "tray", "block": "bench"}
    return rl.load_trial(rows, **roles, responses=responses, primary="roots", strength=IBA)


@cache
def curves() -> rl.curves.StrengthCurve:
    """Strength curves of three rootstocks."""
    trial = rl.load_trial(rl.demo.strengths(seed=1), **PLAIN, treatments=["strength", "rootstock"], strength=IBA)
    return trial.strength_curve(within="rootstock", shape="hump")


@cache
def deaths() -> rl.Trial:
    """Strengths that kill, and those that were left alive."""
    counts = {
        "strength": [0, 1000, 2000, 4000, 8000] * 4,
        "tray": list(range(20)),
        "stuck": [20] * 20,
        "rooted": [3, 8, 12, 10, 4, 2, 9, 11, 11, 5, 4, 7, 13, 9, 3, 3, 10, 12, 10, 4],
        "dead": [1, 1, 0, 3, 9, 0, 1, 2, 2, 8, 1, 0, 1, 4, 11, 0, 2, 1, 3, 10],
    }
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "dead": "dead", "treatments": "strength"}
    return rl.load_trial(counts, **roles, tray="tray", strength=IBA)


@cache
def crop() -> rl.watch.Watch:
    """A crop with a drop in one room."""
    columns: dict[str, Any] = {"set_date": "set", "reading_date": "read", "cultivars": "rootstock", "places": "room"}
    table = rl.demo.weekly_batches(seed=1)
    return rl.watch.load(table, batch="batch", started="started", alive="alive", season="season", **columns)


@cache
def baseline() -> rl.watch.Baseline:
    """What is expected of it."""
    return crop().expected(until="2024-12-31")


@cache
def steps() -> rl.steps.Steps:
    """A chain of three steps."""
    rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 60, 40], "taken": [45, 52, 33], "rooted": [30, 31, 25]}
    return rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"])


@cache
def seasons() -> rl.steps.Steps:
    """A chain of two seasons."""
    columns = {"batch": [f"b{at}" for at in range(8)], "season": [2024] * 4 + [2025] * 4}
    columns["grafted"] = [50, 60, 40, 50, 50, 55, 45, 50]
    columns["taken"] = [45, 52, 33, 44, 40, 41, 34, 40]
    columns["rooted"] = [30, 31, 25, 29, 22, 20, 19, 24]
    return rl.steps.load(columns, batch="batch", season="season", steps=["grafted", "taken", "rooted"])


@cache
def years(count: int) -> dict[int, rl.Trial]:
    """The same two strengths in several seasons."""
    names: dict[str, Any] = {**PLAIN, "treatments": ["strength"], "strength": IBA}
    return {2020 + seed: rl.load_trial(rl.demo.two_strengths(seed=seed), **names) for seed in range(1, count + 1)}


@cache
def strengths_of(count: int) -> dict[int, rl.Trial]:
    """Strengths of several rootstocks in several seasons."""
    names: dict[str, Any] = {**PLAIN, "treatments": ["strength", "rootstock"], "strength": IBA}
    return {2020 + seed: rl.load_trial(rl.demo.strengths(seed=seed), **names) for seed in range(1, count + 1)}


@cache
def graded() -> rl.Trial:
    """Cuttings with root grades, in trays on benches."""
    grades = {"grade": rl.responses.grade(0, 5)}
    roles: dict[str, Any] = {"rooted": "rooted", "tray": "tray", "block": "bench", "treatments": "strength"}
    return rl.load_trial(rl.demo.grades(seed=1), **roles, strength=IBA, responses=grades)


@cache
def means() -> rl.models.MeanModel:
    """A model of the roots of cuttings, strength by rootstock."""
    roles: dict[str, Any] = {"rooted": "rooted", "tray": "tray", "block": "bench", "primary": "roots"}
    responses = {"roots": rl.responses.count()}
    treatments = ["strength", "rootstock"]
    trial = rl.load_trial(rl.demo.roots(seed=1), **roles, treatments=treatments, strength=IBA, responses=responses)
    return trial.model(treatments, interactions=[("strength", "rootstock")], response="roots")


@cache
def visits() -> rl.steps.Visits:
    """Six trays of two strengths, visited three times."""
    rows: dict[str, list[int]] = {"tray": [], "strength": [], "day": [], "started": [], "rooted": [], "dead": []}
    for tray in range(6):
        for at, day in enumerate((14, 28, 42)):
            rooted = (at + 1) * (3 + 2 * (tray % 2)) + tray % 3
            values = (tray + 1, 5000 if tray % 2 else 2500, day, 20, rooted, min(at, 1))
            for name, value in zip(rows, values, strict=True):
                rows[name].append(value)
    names = {"tray": "tray", "day": "day", "started": "started", "rooted": "rooted", "dead": "dead"}
    return rl.steps.visits(rows, treatments=["strength"], **names)


@cache
def plan() -> rl.plan.Layout:
    """A plan in blocks."""
    return rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)


def _dealt_anew() -> Result:
    rows = plan().table().to_dicts()
    rooted = [9 + (3 if str(row["strength"]) == "5000" else 0) + at % 3 for at, row in enumerate(rows)]
    table = {"tray": [row["tray"] for row in rows], "rooted": rooted, "stuck": [20] * len(rows)}
    trial = rl.load_trial(table, plan=plan())
    return plan().dealt_anew(trial, "strength", 2500, 5000, draws=99, seed=2)


def _under_way() -> Result:
    drawn = rl.plan.draw_trial({2500: 0.5, 5000: 0.7}, trays=4, number=3)
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": "level", "tray": "tray"}
    trial = rl.load_trial(drawn, **roles)
    return rl.plan.chance_at_end(trial, "level", 2500, 5000, trays=12, takes=(0.5, 0.7), draws=500)


TAKES = {0: 0.1, 500: 0.4, 1000: 0.6, 2000: 0.7, 4000: 0.5, 8000: 0.2}

COSTS: dict[str, Any] = {
    **{"price": 3.0, "per_cutting": 0.4, "per_tray": 1.0, "saleable": 0.8, "cuttings_a_season": 20_000},
    **{"seasons": 3, "draws": 2000},
}

MEANS = ("mean_effects", "adjusted_means", "mean_contrasts", "mean_letters", "mean_checks", "mean_predictions")

# By name: the kind, and after a comma what is asked of it.
ASKED: dict[str, Callable[[], Any]] = {
    "comparison": lambda: several().compare("strength", 0, 5000, margin=0.1),
    "comparison, deaths": lambda: deaths().compare("strength", 0, 8000, outcome="survival"),
    "all_comparisons": lambda: several().compare_all("strength"),
    "randomisation": lambda: rl.compare.randomisation([0.2, 0.3, 0.4, 0.3], [0.5, 0.6, 0.4, 0.7]),
    "comparison, a grade": lambda: graded().compare("strength", 2500, 5000, response="grade", at_least=3),
    "grades": lambda: graded().grades("strength", response="grade", at_least=3),
    "equality_test": lambda: rl.compare.score_test(156, 240, 84, 240),
    "equivalence": lambda: rl.compare.equivalence(52, 80, 56, 80, margin=0.2),
    "what_matters": lambda: model().what_matters(),
    "odds_ratios": lambda: model().odds_ratios(),
    "coefficients": lambda: model().coefficients(),
    "adjusted_rates": lambda: model().adjusted_rates("strength"),
    "adjusted_rates, within": lambda: model().adjusted_rates("strength", within="rootstock"),
    "contrasts": lambda: model().contrasts("strength", against=0, margin=0.2),
    "contrasts, within": lambda: model().contrasts("strength", within="rootstock", scale="odds"),
    "letters": lambda: model().letters("strength"),
    "letters, within": lambda: model().letters("strength", within="rootstock"),
    "predictions": lambda: model().predict({"strength": [0, 5000], "dark_days": [0, 21], "rootstock": ["K12", "K17"]}),
    "model_comparison": lambda: model().against(several().model(["strength", "dark_days", "rootstock"])),
    "bootstrap_test": lambda: several().model(["strength", "rootstock"]).bootstrap_test("rootstock", draws=99),
    "checks": lambda: model().checks(),
    "take_rates": lambda: several().take_rates("strength"),
    "take_rates, many": lambda: several().take_rates(["strength", "dark_days", "rootstock"]),
    "tray_correlation": lambda: several().tray_correlation(),
    "target_test": lambda: rl.rates.against_target(14, 20, 0.5),
    "strengths_for": lambda: curves().strength_for(0.5),
    "damage_threshold": lambda: deaths().damage_threshold(),
    "curve_differences": lambda: curves().differences(),
    "next_strengths": lambda: curves().next_strengths(trays=24),
    "response_surface": lambda: several().response_surface("dark_days", at={"rootstock": "K12"}),
    "strength_curve": lambda: several().strength_curve(at={"rootstock": "K12"}, common="dark_days"),
    "strength_curve, several": lambda: curves(),
    "association": lambda: several().association("rootstock"),
    "unconditional_test": lambda: rl.tables.unconditional(PAIR),
    "paired": lambda: rl.tables.paired([[4, 9], [3, 16]]),
    "trend": lambda: several().trend("strength"),
    "chi_square": lambda: rl.tables.chi_square([[156, 84], [84, 156]]),
    "fisher": lambda: rl.tables.fisher(PAIR),
    "freeman_halton": lambda: rl.tables.freeman_halton([[3, 0, 1], [4, 2, 6]]),
    "three_way": lambda: rl.tables.three_way([[[156, 84], [107, 133]], [[84, 156], [31, 209]]]),
    "plain_trend": lambda: rl.tables.trend([1, 2, 4, 7], [10] * 4),
    "linear_by_linear": lambda: rl.tables.linear_by_linear([[9, 1], [8, 2], [3, 7]]),
    "stratified": lambda: rl.tables.stratified(TABLES),
    "power": lambda: rl.plan.power((0.5, 0.75), trays=[4, 6, 8], **DRAWS),
    "precision": lambda: rl.plan.precision((0.5, 0.75), trays=[4, 6, 8], **DRAWS),
    "trays_needed": lambda: rl.plan.trays_needed((0.4, 0.8), **DRAWS),
    "smallest_difference": lambda: rl.plan.smallest_difference(0.5, trays=[6, 8], **DRAWS),
    "looks": lambda: rl.plan.looks((0.5, 0.75), trays=8, looks=2, draws=500),
    "chance_at_end": _under_way,
    "best_strength_plan": lambda: rl.plan.best_strength(TAKES, trays=36, unit="mg/L", draws=10),
    "dealt_anew": _dealt_anew,
    "layout": plan,
    "count_law": lambda: rl.responses.count_law(ROOTS, [0] * 12 + [2500] * 12, by="strength"),
    "count_law, columns": lambda: rl.responses.count_law(
        ROOTS, [0] * 12 + [2500] * 12, law="zero-inflated-poisson", columns={"length": LENGTHS}, name="leaves"
    ),
    "response_means": lambda: measured().means("strength", response="roots"),
    "mean_effects": lambda: means().what_matters(),
    "adjusted_means": lambda: means().adjusted_means("strength"),
    "adjusted_means, within": lambda: means().adjusted_means("strength", within="rootstock"),
    "mean_contrasts": lambda: means().contrasts("strength", against=0, margin=1.0),
    "mean_letters": lambda: means().letters("strength", within="rootstock"),
    "mean_checks": lambda: means().checks(),
    "mean_predictions": lambda: means().predict({"strength": [0, 5000], "rootstock": ["K12", "K17"]}),
    "response_comparison": lambda: measured().compare("strength", 0, 2500, response="roots"),
    "pooled": lambda: rl.seasons.pool(years(5), "strength", 2500, 5000),
    "best_over_seasons": lambda: rl.seasons.pool_curves(strengths_of(5), at={"rootstock": "K12"}),
    "pooled, two": lambda: rl.seasons.pool(years(2), "strength", 2500, 5000),
    "level_choice": lambda: rl.decide.choose(
        years(1)[2021], "strength", season_sd=0.3, next_trial={"trays": 8, "cuttings": 20, "cost": 500}, **COSTS
    ),
    "step_yields": lambda: steps().yields(draws=199, seed=4),
    "start_numbers": lambda: steps().to_start(200),
    "yield_change": lambda: rl.steps.yield_change(
        {"graft": 0.8, "dark": 0.6, "rooted": 0.9}, {"graft": 0.8, "dark": 0.5, "rooted": 0.88}
    ),
    "agreement": lambda: rl.steps.agreement([[80, 10], [5, 5]]),
    "early_sign": lambda: rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), sign="tint"),
    "yield_comparison": lambda: seasons().compare("season", 2024, 2025),
    "yields_by_level": lambda: seasons().compare_all("season"),
    "time_course": lambda: visits().over_time("strength"),
    "times_compared": lambda: visits().compare_times("strength", 2500, 5000, draws=199),
    "baseline": baseline,
    "signals": lambda: crop().signals(baseline(), draws=99),
    "batch_chart": lambda: crop().batch_chart(baseline()),
    "mix_change": lambda: crop().mix("2024-12-31"),
    "target_watched": lambda: crop().target(0.88, baseline()),
    "places_watched": lambda: crop().places(baseline()),
}


@cache
def made(name: str) -> Any:
    """The result of a name, made once."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return ASKED[name]()
