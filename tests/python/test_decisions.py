"""The decision line of forty situations: what a manager reads first. Read them aloud: would one know what to do?

``decisions.txt`` holds them, a situation and its sentence a line. ``ROOTLING_WRITE_DECISIONS=1`` writes it anew,
to be read before it is committed. All data are invented (nursery Bramblescar, rootstocks K12, K17, K30).
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
import rootling as rl

KEPT = Path(__file__).with_name("decisions.txt")
IBA = rl.Strength("IBA", unit="mg/L", method="quick dip")
MOST_WORDS = 30


def frame(
    arms: dict[Any, Sequence[int]], *, stuck: int = 20, name: str = "strength", **columns: Any
) -> dict[str, list[Any]]:
    """One row per tray: the rooted of each arm's trays."""
    rows = [(level, rooted) for level, trays in arms.items() for rooted in trays]
    made: dict[str, list[Any]] = {name: [level for level, _ in rows], "rooted": [rooted for _, rooted in rows]}
    made["stuck"] = [stuck] * len(rows)
    made["tray"] = list(range(1, len(rows) + 1))
    return made | {column: list(values) for column, values in columns.items()}


def load(data: dict[str, list[Any]], **options: Any) -> rl.Trial:
    name = next(iter(data))
    given = {"rooted": "rooted", "stuck": "stuck", "treatments": [name], "tray": "tray"} | options
    if name == "strength":
        given.setdefault("strength", IBA)
    given = {role: column for role, column in given.items() if column is not None}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(data, **given)


CLEAR = {2500: [7, 8, 6, 9, 7, 8], 5000: [13, 14, 12, 15, 13, 12]}
LEANING = {2500: [7, 9, 6, 12], 5000: [13, 14, 11, 12]}
NONE = {2500: [9, 10, 11, 10, 9, 11], 5000: [10, 9, 11, 10, 10, 11]}
FEW = {2500: [5, 9, 11], 5000: [8, 12, 14]}
THREE = {0: [2, 1, 3, 2], 2500: [8, 9, 7, 10], 5000: [14, 13, 15, 12]}
HUMP = {0: [2, 1, 3, 2], 1000: [9, 8, 10, 9], 3000: [12, 13, 11, 13], 8000: [4, 3, 5, 2]}
ALIKE = {"K12": [9, 10, 8, 11], "K17": [10, 9, 9, 11], "K30": [9, 11, 10, 8]}
STOCKS = {"K12": [6, 7, 5, 6], "K17": [12, 13, 11, 12], "K30": [9, 10, 8, 9]}


def two(arms: dict[Any, Sequence[int]], *, stuck: int = 20, **options: Any) -> rl.compare.Comparison:
    columns = options.pop("columns", {})
    roles = {role: options.pop(role) for role in list(options) if role in ROLES}
    name = options.pop("name", "strength")
    trial = load(frame(arms, stuck=stuck, name=name, **columns), **roles)
    first, second = list(arms)[:2]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return trial.compare(name, first, second, **options)


ROLES = ("tray", "block", "whole_plot", "season", "stock_plant", "dead", "strength")
BAYS = ["b1", "b1", "b2", "b2", "b3", "b3"]


MORE_ON_ONE = {(0, "K12"): 2, (0, "K17"): 4, (5000, "K12"): 12, (5000, "K17"): 6}
TURNED = {(2500, "K12"): 13, (2500, "K17"): 5, (5000, "K12"): 5, (5000, "K17"): 10}


def crossed(takes: dict[tuple[int, str], int] = MORE_ON_ONE) -> rl.Trial:
    strength, stock, rooted = [], [], []
    for (level, one), take in takes.items():
        for more in (0, 1, -1, 0):
            strength.append(level)
            stock.append(one)
            rooted.append(take + more)
    data = {"strength": strength, "rootstock": stock, "rooted": rooted, "stuck": [20] * 16, "tray": list(range(16))}
    return load(data, treatments=["strength", "rootstock"])


def deaths(dead: Sequence[int], arms: dict[Any, Sequence[int]], outcome: str) -> rl.compare.Comparison:
    return two(arms, dead="dead", columns={"dead": dead}, outcome=outcome)


YEARS = (
    ([6, 8, 9, 7], [15, 17, 14, 15]),
    ([7, 7, 9, 10], [13, 14, 13, 14]),
    ([9, 8, 6, 8], [12, 14, 15, 13]),
    ([5, 9, 8, 7], [9, 12, 10, 11]),
    ([8, 10, 9, 11], [14, 16, 18, 15]),
    ([4, 6, 7, 5], [10, 12, 9, 13]),
)
UNLIKE = (*YEARS[:3], ([9, 8, 11, 10], [10, 9, 8, 11]), ([12, 10, 9, 11], [11, 13, 10, 11]), YEARS[5])
LITTLE = tuple(([10 + at, 9, 11, 10], [10, 11, 10 + at, 9]) for at in range(5))


def pooled(years: Sequence[tuple[Sequence[int], Sequence[int]]], **options: Any) -> rl.seasons.Pooled:
    trials = [load(frame({2500: first, 5000: second}, **options)) for first, second in years]
    return rl.seasons.pool(trials, "strength", 2500, 5000)


MONEY: dict[str, Any] = {
    **{"price": 3.0, "per_cutting": 0.4, "per_tray": 1.0, "saleable": 0.8, "cuttings_a_season": 20_000},
    **{"seasons": 3, "money": "EUR"},
}


def chosen(counts: dict[Any, Sequence[int]], *, cost: float | None = None, **options: Any) -> rl.decide.LevelChoice:
    asked = {name: options.pop(name) for name in list(options) if name in {*MONEY, "season_sd"}}
    next_trial = None if cost is None else {"trays": 8, "cuttings": 20, "cost": cost}
    trial = load(frame(counts), **options)
    return rl.decide.choose(trial, "strength", next_trial=next_trial, **{**MONEY, **asked})


SITUATIONS: dict[str, Callable[[], Any]] = {
    "two strengths, a clear winner": lambda: two(CLEAR),
    "the same, asked the other way round": lambda: two(dict(reversed(CLEAR.items()))),
    "a winner that four trays each cannot settle": lambda: two(LEANING),
    "alike, and well measured": lambda: two(NONE, stuck=40),
    "alike, and an equivalence margin": lambda: two(NONE, stuck=40, margin=0.15),
    "three trays each": lambda: two(FEW),
    "one tray each": lambda: two({2500: [7], 5000: [13]}),
    "no tray numbers": lambda: two(CLEAR, tray=None),
    "trays left out on request": lambda: two(CLEAR, trays="ignore"),
    "nothing rooted": lambda: two({2500: [0] * 6, 5000: [0] * 6}),
    "all rooted": lambda: two({2500: [20] * 6, 5000: [20] * 6}),
    "none against some": lambda: two({0: [0] * 5, 2500: [6, 8, 5, 7, 9]}),
    "rootstocks": lambda: two({"K12": [6, 7, 5, 6], "K17": [12, 13, 11, 12]}, name="rootstock"),
    "a strength without a declared substance": lambda: two(CLEAR, strength=None),
    "benches": lambda: two(CLEAR, block="bench", columns={"bench": [1, 2, 3, 4, 5, 6] * 2}),
    "strengths in bays of their own, three each": lambda: two(
        CLEAR, whole_plot="bay", columns={"bay": [*BAYS, *(f"c{bay}" for bay in BAYS)]}
    ),
    "one bay for each strength": lambda: two(CLEAR, whole_plot="bay", columns={"bay": ["b1"] * 6 + ["b2"] * 6}),
    "rootstocks with four plants each": lambda: two(
        {"K12": [6, 7, 5, 6, 8, 7, 5, 6], "K17": [12, 13, 11, 12, 10, 12, 13, 11]},
        name="rootstock",
        stock_plant="plant",
        columns={"plant": [f"p{at // 2}" for at in range(16)]},
    ),
    "another difference that matters": lambda: two(FEW, nearly=0.2),
    "a strength that kills": lambda: deaths(
        [1, 0, 1, 0, 1, 0, 9, 8, 10, 9, 8, 9], {2500: [13, 14, 12, 14, 13, 12], 5000: [7, 8, 6, 7, 8, 7]}, "take"
    ),
    "its survival": lambda: deaths(
        [1, 0, 1, 0, 1, 0, 9, 8, 10, 9, 8, 9], {2500: [13, 14, 12, 14, 13, 12], 5000: [7, 8, 6, 7, 8, 7]}, "survival"
    ),
    "its rooting among survivors": lambda: deaths(
        [1, 0, 1, 0, 1, 0, 9, 8, 10, 9, 8, 9],
        {2500: [13, 14, 12, 14, 13, 12], 5000: [7, 8, 6, 7, 8, 7]},
        "rooted-of-survivors",
    ),
    "within one rootstock": lambda: crossed().compare("strength", 0, 5000, at={"rootstock": "K12"}),
    "a strength that helps one rootstock more": lambda: crossed().compare("strength", 0, 5000),
    "strengths whose order turns with the rootstock": lambda: crossed(TURNED).compare("strength", 2500, 5000),
    "the same, all pairs": lambda: crossed(TURNED).compare_all("strength"),
    "three strengths, all pairs": lambda: load(frame(THREE)).compare_all("strength"),
    "three strengths against the control": lambda: load(frame(THREE)).compare_all("strength", against=0),
    "a hump, all pairs": lambda: load(frame(HUMP)).compare_all("strength"),
    "rootstocks alike": lambda: load(frame(ALIKE, name="rootstock")).compare_all("rootstock"),
    "rootstocks that differ": lambda: load(frame(STOCKS, name="rootstock")).compare_all("rootstock"),
    "pairs without trays": lambda: load(frame(THREE), tray=None).compare_all("strength"),
    "does the strength matter": lambda: load(frame(THREE)).association("strength"),
    "does the rootstock matter": lambda: load(frame(ALIKE, name="rootstock")).association("rootstock"),
    "a rise": lambda: load(frame(THREE)).trend("strength"),
    "a hump asked for a trend": lambda: load(frame(HUMP)).trend("strength"),
    "take rates": lambda: load(frame(THREE)).take_rates("strength"),
    "take rates without trays": lambda: load(frame(THREE), tray=None).take_rates("strength"),
    "how alike trays are": lambda: load(frame(LEANING)).tray_correlation(),
    "a model of two treatments": lambda: crossed().model(["strength", "rootstock"]).what_matters(),
    "a model with their interaction": lambda: (
        crossed().model(["strength", "rootstock"], interactions=[("strength", "rootstock")]).what_matters()
    ),
    "adjusted rates": lambda: crossed().model(["strength", "rootstock"]).adjusted_rates("strength"),
    "odds ratios": lambda: crossed().model(["strength", "rootstock"]).odds_ratios(),
    "contrasts with the control": lambda: load(frame(HUMP)).model(["strength"]).contrasts("strength", against=0),
    "letters": lambda: load(frame(HUMP)).model(["strength"]).letters("strength"),
    "expected takes": lambda: (
        crossed().model(["strength", "rootstock"]).predict({"strength": [0, 5000], "rootstock": ["K12", "K12"]})
    ),
    "does the model hold": lambda: crossed().model(["strength", "rootstock"]).checks(),
    "two seasons": lambda: pooled(YEARS[:2]),
    "two seasons that settle nothing": lambda: pooled((YEARS[3], UNLIKE[3])),
    "three seasons": lambda: pooled(YEARS[:3]),
    "six seasons": lambda: pooled(YEARS),
    "six seasons that differ": lambda: pooled(UNLIKE),
    "five seasons without a difference": lambda: pooled(LITTLE, stuck=60),
    "three seasons that settle nothing": lambda: pooled(UNLIKE[2:5]),
    "a choice in money": lambda: chosen(CLEAR),
    "a choice in money, and a trial that does not pay": lambda: chosen(CLEAR, cost=500),
    "a choice in money that leans, seasons differ": lambda: chosen(LEANING, cost=2500, season_sd=0.3),
    "a choice in money, and a trial that pays": lambda: chosen(FEW, cost=50, season_sd=0.3),
    "a choice in money for one season": lambda: chosen(FEW, cost=50, seasons=1),
    "a price at which no level pays": lambda: chosen(CLEAR, price=0.3),
    "a choice in money without tray numbers": lambda: chosen(CLEAR, tray=None, cuttings_a_season=5000, per_tray=None),
}


@pytest.fixture(scope="module")
def said() -> dict[str, str]:
    found = {}
    for name, ask in SITUATIONS.items():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found[name] = ask().sentence
    if os.environ.get("ROOTLING_WRITE_DECISIONS"):
        KEPT.write_text("".join(f"{name} | {sentence}\n" for name, sentence in found.items()), encoding="utf-8")
    return found


def test_decisions_are_as_read_aloud(said: dict[str, str]) -> None:
    kept = dict(line.split(" | ", 1) for line in KEPT.read_text(encoding="utf-8").splitlines())
    assert said == kept


def test_decisions_are_short_and_plain(said: dict[str, str]) -> None:
    assert len(said) >= 40
    for name, sentence in said.items():
        assert len(sentence.split()) <= MOST_WORDS, (name, len(sentence.split()), sentence)
        assert sentence.count("P = ") + sentence.count("P < ") <= 1, (name, sentence)
        for word in ("dealing", "effective", "score", "degrees of freedom", "conf_", "None", "nan"):
            assert word not in sentence, (name, sentence)
        assert sentence[0].isupper() or sentence[0].isdigit(), (name, sentence)
        assert sentence.endswith("."), (name, sentence)
