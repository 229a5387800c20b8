"""Records of results and models edited by hand, then read back and asked."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable
from typing import Any

import rootling as rl
from rootling.models import Model

from fuzz import draw
from fuzz.fields import trials, verbs
from fuzz.oracle import Oracle

_known: list[tuple[type, dict[str, Any]]] = []
_trial: list[rl.Trial] = []


def _demo(data: Any, **more: Any) -> rl.Trial:
    roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
    return rl.load_trial(data, **{**roles, **more})


def _asks() -> list[Callable[[], Any]]:
    trial = _demo(rl.demo.two_strengths(seed=1))
    curved = _demo(rl.demo.strengths(seed=1), treatments=["strength"])
    several = _demo(rl.demo.factorial(seed=1), treatments=["strength", "dark_days", "rootstock"])
    model, random_trays = several.model(["strength", "rootstock"]), trial.model("strength", trays="random")
    _trial.append(trial)
    return [
        lambda: trial.take_rates(),
        lambda: trial.compare("strength", 2500, 5000),
        lambda: several.compare_all("rootstock"),
        lambda: several.association("rootstock", within="bench"),
        lambda: trial.trend("strength"),
        lambda: trial.tray_correlation(),
        lambda: model,
        lambda: random_trays,
        lambda: several.model(["strength", "dark_days"], trays="beta-binomial"),
        lambda: trial.model("strength", trays="robust"),
        lambda: model.what_matters(),
        lambda: model.odds_ratios(),
        lambda: model.coefficients(),
        lambda: model.adjusted_rates("strength"),
        lambda: model.contrasts("rootstock"),
        lambda: model.letters("rootstock"),
        lambda: model.predict({"strength": [0, 2500], "rootstock": ["K12", "K17"]}, new_tray=20),
        lambda: model.checks(),
        lambda: model.against(several.model("strength")),
        lambda: model.bootstrap_test("strength", draws=99),
        lambda: curved.strength_curve(),
        lambda: curved.strength_curve().strength_for(0.5),
        lambda: curved.strength_curve().next_strengths(),
        lambda: curved.strength_curve(within="rootstock").differences(),
        lambda: rl.rates.interval(3, 9),
        lambda: rl.rates.against_target(3, 9, 0.5),
        lambda: rl.compare.randomisation([0.1, 0.2, 0.4], [0.3, 0.5, 0.6], draws=99),
        lambda: rl.compare.equivalence(9, 20, 11, 20, margin=0.2),
        lambda: rl.tables.chi_square([[8, 2], [1, 5]]),
        lambda: rl.tables.stratified([[[8, 2], [1, 5]], [[4, 4], [3, 5]]]),
        lambda: rl.tables.trend([1, 3, 5], [9, 9, 9]),
        lambda: rl.tables.linear_by_linear([[8, 2, 3], [1, 5, 6]], work=0, draws=99),
    ]


def known(look: Oracle) -> list[tuple[type, dict[str, Any]]]:
    """Records of every kind, made once in a process."""
    if not _known:
        for ask in _asks():
            found = look.guarded(ask)
            if found is not None:
                kind = type(found) if isinstance(found, (Model, rl.Estimate)) else rl.Result
                _known.append((kind, found.to_dict()))
    return _known


def places(value: Any) -> list[tuple[Any, Any]]:
    """Every place of a record: what holds it, and its name there."""
    names: Any = value if isinstance(value, dict) else range(len(value)) if isinstance(value, list) else ()
    found = [(value, name) for name in names]
    return found + [one for name in names for one in places(value[name])]


def _deep(depth: int) -> Any:
    value: Any = 1
    for _ in range(depth):
        value = [value]
    return value


def edited(rng: random.Random, record: dict[str, Any]) -> dict[str, Any]:
    """A copy with one to three places changed by hand."""
    made = copy.deepcopy(record)
    for _ in range(rng.choice([1, 1, 1, 2, 3])):
        all_places = places(made)
        if not all_places:
            break
        holder, name = (
            rng.choice(all_places) if rng.random() < 0.7 else rng.choice([p for p in all_places if p[0] is made])
        )
        if (kind := rng.randrange(8)) == 0:
            del holder[name]
        elif kind == 1 and isinstance(holder, dict):
            holder[draw.name(rng, 0.5)] = holder.pop(name)
        elif kind == 2 and isinstance(holder[name], list):
            holder[name] = holder[name] * 2 if rng.random() < 0.5 else holder[name][:-1]
        elif kind == 3:
            holder[name] = copy.deepcopy(rng.choice(all_places)[0])
        elif kind == 4 and isinstance(holder[name], (int, float)):
            holder[name] = rng.choice([-holder[name], holder[name] * 1e9, 10**30, 0, None, str(holder[name])])
        else:
            holder[name] = rng.choice(
                [None, True, 0, -1, 1.5, 1e308, float("nan"), "x", "", [], {}, [None], {"a": 1}, 10**20]
            )
    return made


def of_dictionaries(look: Oracle) -> None:
    rng = look.rng
    kind, record = rng.choice(known(look))
    made = edited(rng, record)
    if kind is rl.Estimate:
        look.call(rl.Estimate.from_json, json.dumps(made), numbers=False)
        return
    found = look.call(kind.from_dict, made, numbers=False)
    if kind is Model and found is not None:
        verbs.after(look, found, trials.make(rng))


def of_text(look: Oracle) -> None:
    """JSON cut off, changed by a sign, or of another thing altogether."""
    rng = look.rng
    kind, record = rng.choice(known(look))
    text = json.dumps(record)
    at = rng.randrange(len(text))
    makers = [
        lambda: text[:at],
        lambda: text[:at] + rng.choice(['"', "{", "}", "[", "]", ",", "9", "-", "\x00", "\ud800", "e"]) + text[at:],
        lambda: text[:at] + text[at + rng.randrange(1, 20) :],
        lambda: "[" * rng.choice([10, 2000, 100_000]),
        lambda: '{"kind": ' + "[" * 5000 + "]" * 5000 + "}",
        lambda: rng.choice(
            ["", "null", "[]", "{}", "1", '"x"', "NaN", '{"kind": null}', "{'kind': 'trend'}", "\ufeff{}"]
        ),
        lambda: text.replace('"kind": "', '"kind": "x', 1),
        lambda: json.dumps({**record, "non_finite": rng.choice([1, [1], [["table"]], [["a", "b"]], [[0]], [[]], "x"])}),
        lambda: draw.silly(rng),
    ]
    look.call(kind.from_json, rng.choice(makers)(), numbers=False)


def deep(look: Oracle) -> None:
    rng = look.rng
    kind, record = rng.choice(known(look))
    if kind is rl.Estimate:
        return
    holder, name = rng.choice(places(made := copy.deepcopy(record)))
    holder[name] = _deep(rng.choice([50, 400, 900]))
    look.call(kind.from_dict, made, numbers=False)


def of_earlier_trials(look: Oracle) -> None:
    """What an earlier trial left for this one, edited."""
    rng = look.rng
    known(look)
    made = edited(rng, copy.deepcopy(_trial[0].for_later()))
    roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
    trial = look.call(
        rl.load_trial, rl.demo.two_strengths(seed=2), earlier=rng.choice([made, [made], [made, made]]), **roles
    )
    if trial is not None:
        look.call(trial.compare, "strength", 2500, 5000, numbers=False)


def run(look: Oracle) -> None:
    look.rng.choices([of_dictionaries, of_text, deep, of_earlier_trials], [6, 3, 0.3, 1])[0](look)
