"""Random designs of at most 100 trays, every way of the trays: ``small_fits.py [designs] [first]``.

Prints, for each way, how many fits were made, refused in words, or given up, and the slowest by the processor's time,
each with the number of its design, which makes it again; tests of its effects are made too and are not timed.
Limits: a second for any fit, 99 in 100 fitted where a maximum is there.
"""

from __future__ import annotations

import math
import random
import sys
import time
import warnings
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import rootling as rl
from rootling.exceptions import ModelError, NumericError, RootlingError

WAYS = ("auto", "effective", "dispersion", "beta-binomial", "random", "robust", "ignore")
LINKS = ("logit", "probit", "complementary-log-log", "log-log")
LIMIT = 1.0


@dataclass
class Tally:
    """What became of the fits of one way."""

    fitted: int = 0
    said: Counter[str] = field(default_factory=Counter)
    slowest: list[tuple[float, int, str]] = field(default_factory=list)

    def add(self, seconds: float, number: int, what: str) -> None:
        """Keeps the ten slowest."""
        self.slowest = sorted([*self.slowest, (seconds, number, what)], reverse=True)[:10]


def design(number: int) -> tuple[dict[str, list[Any]], dict[str, Any], random.Random]:
    """Columns and roles of one design: two to six levels a treatment, benches, bays of one strength, any take."""
    draw = random.Random(number)
    strengths, stocks = draw.randint(2, 6), draw.choice([1, 1, 2, 3])
    repeats = max(1, min(draw.choice([1, 2, 3, 4, 8]), 100 // (strengths * stocks)))
    effect = [draw.gauss(0, draw.choice([0.3, 1.0, 3.0])) for _ in range(strengths)]
    start, spread, size = draw.uniform(-3, 3), draw.choice([0.0, 0.5, 1.5]), draw.choice([1, 5, 20, 20, 50, 200])
    columns: dict[str, list[Any]] = {name: [] for name in ("strength", "rootstock", "bench", "bay", "rooted", "stuck")}
    for at in range(strengths * stocks * repeats):
        strength, stock, repeat = at % strengths, at // strengths % stocks, at // (strengths * stocks)
        chance = 1 / (1 + math.exp(-(start + effect[strength] + 0.4 * stock + draw.gauss(0, spread))))
        stuck = max(1, size + draw.randint(-size // 5, size // 5))
        row = (strength * 1000, f"K{stock}", f"B{repeat}", f"W{strength}-{repeat % 2}")
        rooted = sum(draw.random() < chance for _ in range(stuck))
        for name, value in zip(columns, (*row, rooted, stuck), strict=True):
            columns[name].append(value)
    columns["tray"] = list(range(len(columns["stuck"])))
    treatments = ["strength"] + (["rootstock"] if stocks > 1 else [])
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "treatments": treatments}
    if repeats > 1 and draw.random() < 0.6:
        roles["block"] = "bench"
    if repeats > 1 and draw.random() < 0.3:
        roles["whole_plot"] = "bay"
    return columns, roles, draw


def asked(draw: random.Random, treatments: list[str], way: str) -> dict[str, Any]:
    """What is asked of the model."""
    how: dict[str, Any] = {"trays": way, "link": draw.choice(LINKS)}
    if len(treatments) > 1 and draw.random() < 0.5:
        how["interactions"] = [tuple(treatments)]
    elif draw.random() < 0.4:
        how["numeric"] = "strength"
    return how


def main() -> None:
    """All designs in turn, each asked in every way."""
    count, first = (int(sys.argv[at]) if len(sys.argv) > at else other for at, other in ((1, 1000), (2, 0)))
    warnings.simplefilter("ignore")
    tallies = {way: Tally() for way in WAYS}
    for number in range(first, first + count):
        columns, roles, draw = design(number)
        try:
            trial = rl.load_trial(columns, **roles, checked=["percent_as_counts", "mean_row", "total_row"])
        except RootlingError:
            continue
        for way in WAYS:
            how, tally = asked(draw, roles["treatments"], way), tallies[way]
            began = time.process_time()
            seconds = 0.0
            try:
                model = trial.model(roles["treatments"], **how)
                seconds = time.process_time() - began
                model.what_matters()
                tally.fitted += 1
            except (ModelError, NumericError) as error:
                tally.said["".join(" " if letter.isdigit() else letter for letter in str(error))[:110]] += 1
            except RootlingError as error:
                tally.said[f"{type(error).__name__}: {str(error)[:90]}"] += 1
            tally.add(seconds or time.process_time() - began, number, str(how))
    for way, tally in tallies.items():
        slow = sum(seconds > LIMIT for seconds, _, _ in tally.slowest)
        print(f"{way}: {tally.fitted} fitted with their tests; slower than {LIMIT:g} s: {slow}")
        for seconds, number, what in tally.slowest[:3]:
            print(f"    {seconds:.2f} s, design {number}, {what}")
        for text, times in tally.said.most_common(5):
            print(f"    {times} times: {text}")


if __name__ == "__main__":
    main()
