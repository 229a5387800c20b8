"""Designs of trials as they are and as they go wrong; shared by the fields that ask questions."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

import polars as pl

STRENGTHS = [0, 500, 1000, 2000, 4000, 8000]


@dataclass
class Design:
    """Columns of a sound trial, with the roles to load them by."""

    columns: dict[str, list[Any]]
    roles: dict[str, Any]
    treatments: list[str] = field(default_factory=list)

    @property
    def frame(self) -> pl.DataFrame:
        return pl.DataFrame(self.columns)

    def levels(self, name: str) -> list[Any]:
        return sorted(set(self.columns[name]), key=str)


def rooted(rng: random.Random, stuck: int, rate: float) -> int:
    """A count of a tray whose own rate differs from that of its treatment."""
    own = min(1.0, max(0.0, rate + rng.choice([0, 0, rng.uniform(-0.2, 0.2)])))
    return sum(rng.random() < own for _ in range(stuck))


def make(rng: random.Random, *, large: bool = False) -> Design:
    """A random design: unequal and lost trays, rates at 0 and 100 %, units above the tray, or no trays at all."""
    strengths = sorted(rng.sample(STRENGTHS, rng.choice([1, 2, 2, 3, 4, 5])))
    stocks = rng.choice([[""], [""], ["K12", "K17"], ["K12", "K17", "K30"]])
    each, stuck = rng.choice([1, 2, 3, 4, 6]), rng.choice([1, 5, 20, 20, 40])
    extreme = rng.choice([None, None, None, 0.0, 1.0])
    rates = {(s, k): rng.choice([0.0, 1.0, rng.random(), rng.random()]) for s in strengths for k in stocks}
    names = ["strength", "rootstock", "bench", "bay", "length", "tray", "stuck", "rooted", "dead"]
    columns: dict[str, list[Any]] = {name: [] for name in names}
    for strength in strengths:
        for stock in stocks:
            for at in range(each):
                if rng.random() < 0.06:
                    continue
                size = stuck if rng.random() < 0.8 else rng.randrange(1, stuck + 1)
                took = rooted(rng, size, rates[strength, stock] if extreme is None else extreme)
                whole_plot = f"w{(STRENGTHS.index(strength) + at) % 4}"
                row = [
                    strength,
                    stock,
                    f"B{at + 1}",
                    whole_plot,
                    round(rng.uniform(5, 30), 1),
                    f"T{len(columns['tray'])}",
                ]
                for name, value in zip(names, [*row, size, took, rng.randrange(size - took + 1)], strict=True):
                    columns[name].append(value)
    return Design(columns, _roles(rng, columns, stocks), ["strength"] + (["rootstock"] if len(stocks) > 1 else []))


def _roles(rng: random.Random, columns: dict[str, list[Any]], stocks: list[str]) -> dict[str, Any]:
    roles: dict[str, Any] = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray"}
    if len(stocks) > 1:
        roles["treatments"] = ["strength", "rootstock"]
    if rng.random() < 0.6:
        roles["block"] = "bench"
    if rng.random() < 0.15:
        roles["whole_plot"] = "bay"
    if rng.random() < 0.15:
        del roles["tray"]
    if rng.random() < 0.4:
        roles["covariates"] = ["length"]
    if rng.random() < 0.4:
        roles["dead"] = "dead"
    return roles
