"""Plain counts into ``rl.rates``, ``rl.compare`` and ``rl.tables``; what must not change when groups swap places."""

from __future__ import annotations

import random
from typing import Any, get_args

import rootling as rl
from rootling._given import choices

from fuzz import draw, figures
from fuzz.oracle import Oracle

# The methods are the package's own lists, so that a new one is drawn too.
CHOICES: dict[str, list[str]] = {
    question: list(get_args(kind))
    for question, kind in {
        "interval": choices.IntervalMethod,
        "against_target": choices.TargetMethod,
        "difference": choices.DifferenceMethod,
        "ratio": choices.RatioMethod,
        "odds_ratio": choices.OddsRatioMethod,
        "unconditional": choices.UnconditionalMethod,
        "paired": choices.PairedMethod,
        "p_adjusted": choices.Adjustment,
    }.items()
}
COSTLY = {"exact", "boschloo", "barnard", "barnard-unpooled"}


def level(rng: random.Random) -> Any:
    if rng.random() < 0.9:
        return rng.choice([0.5, 0.8, 0.9, 0.95, 0.99, 0.999999, round(rng.uniform(0.5, 1), 3)])
    return draw.silly(rng)


def arm(rng: random.Random, most: int = 60) -> tuple[Any, Any]:
    """Rooted and stuck of one group, mostly sound."""
    if rng.random() < 0.08:
        return draw.count(rng), draw.count(rng)
    stuck = rng.randrange(1, most)
    return rng.choice([0, stuck, rng.randrange(stuck + 1), rng.randrange(stuck + 1)]), stuck


def method(rng: random.Random, name: str, options: dict[str, Any]) -> dict[str, Any]:
    if rng.random() < 0.8:
        options["method"] = draw.silly(rng) if rng.random() < 0.05 else rng.choice(CHOICES[name])
    return options


def with_level(rng: random.Random, options: dict[str, Any]) -> dict[str, Any]:
    if rng.random() < 0.5:
        options["confidence"] = level(rng)
    return options


def rates(look: Oracle) -> None:
    rng = look.rng
    if rng.random() < 0.6:
        rooted, stuck = arm(rng, rng.choice([10, 60, 5000]))
        if rng.random() < 0.2:
            many = [arm(rng) for _ in range(rng.randrange(6))]
            rooted, stuck = (draw.holder(rng, [pair[at] for pair in many]) for at in (0, 1))
        if rng.random() < 0.7:
            options = method(rng, "interval", with_level(rng, {}))
            if rng.random() < 0.3:
                options["sides"] = rng.choice(["both", "lower", "upper", draw.silly(rng)])
            look.call(rl.rates.interval, rooted, stuck, **options)
        else:
            target = rng.choice([0.5, 0.7, 0, 1, rng.random(), draw.silly(rng)])
            look.call(rl.rates.against_target, rooted, stuck, target, **method(rng, "against_target", {}))
        return
    trays = [arm(rng, 30) for _ in range(rng.randrange(12))]
    options: dict[str, Any] = {"method": rng.choice(["anova", "beta-binomial"])}
    if rng.random() < 0.6:
        options["treatment"] = draw.holder(rng, [rng.choice(["a", "b", 1, None]) for _ in trays])
    rooted, stuck = (draw.holder(rng, [pair[at] for pair in trays]) for at in (0, 1))
    look.call(rl.rates.tray_correlation, rooted, stuck, **with_level(rng, options))


def two_rates(look: Oracle) -> None:
    rng = look.rng
    name = rng.choice(["difference", "ratio", "odds_ratio", "score_test", "likelihood_ratio_test", "equivalence"])
    options: dict[str, Any] = {}
    if name in CHOICES:
        options = method(rng, name, with_level(rng, options))
    if name == "equivalence":
        options = with_level(rng, {"margin": rng.choice([0.1, 0.2, 0.05, rng.random(), draw.silly(rng)])})
        options["claim"] = rng.choice(["equivalent", "not-worse", "not-better"])
        options["method"] = rng.choice(["score", "score", "exact"])
    most = 25 if str(options.get("method")) in COSTLY or name == "equivalence" else rng.choice([10, 60, 3000])
    one, two = arm(rng, most), arm(rng, most)
    function = getattr(rl.compare, name)
    found = look.call(function, *one, *two, **options)
    if found is None or rng.random() < 0.5:
        return
    other = look.call(function, *two, *one, **options)
    if name == "difference" and other is not None:
        swapped(look, name, (-found.high, -found.low), (other.low, other.high))
    elif name in ("score_test", "likelihood_ratio_test") and other is not None:
        swapped(look, name, found.p, other.p)


def swapped(look: Oracle, name: str, first: Any, second: Any) -> None:
    """Two routes to one number."""
    near = all(a is None or b is None or abs(a - b) <= 1e-12 for a, b in [(first, second)] if isinstance(a, float))
    if isinstance(first, tuple):
        near = all(abs(a - b) <= 1e-9 for a, b in zip(first, second, strict=True))
    if not near and not figures.alike(first, second, 1e-6):
        look.fail("swapped", name, f"{first!r} against {second!r}")


def several(look: Oracle) -> None:
    rng = look.rng
    if rng.random() < 0.5:
        many = [rng.choice([rng.random(), 0, 1, 1e-300, 0.5]) for _ in range(rng.randrange(8))]
        if rng.random() < 0.15:
            many.append(draw.silly(rng))
        found = look.call(rl.compare.adjusted_p, draw.holder(rng, many), **method(rng, "p_adjusted", {}))
        if found is not None and not all(0 <= p <= 1 for p in found):
            look.fail("impossible", "p_adjusted outside 0 to 1", repr(found))
        return
    first, second = ([rng.choice([rng.random(), 0.0, 1.0, 0.25]) for _ in range(rng.randrange(7))] for _ in range(2))
    options = with_level(rng, {"draws": rng.choice([99, 999, 0, draw.silly(rng)]) if rng.random() < 0.6 else 500})
    if rng.random() < 0.3:
        options["strata"] = rng.choice([([1] * len(first), [1] * len(second)), draw.silly(rng)])
    look.call(rl.compare.randomisation, draw.holder(rng, first), draw.holder(rng, second), **options)


def grid(rng: random.Random, rows: int, columns: int, most: int = 20) -> Any:
    """A table, mostly of sound counts, held in any way."""
    make = draw.count if rng.random() < 0.1 else lambda r: r.choice([0, r.randrange(most), r.randrange(most)])
    table: Any = [[make(rng) for _ in range(columns)] for _ in range(rows)]
    if rng.random() < 0.05:
        table[-1] = table[-1][1:]
    if rng.random() < 0.3:
        table = held(rng, table)
    return table


def held(rng: random.Random, table: Any) -> Any:
    import numpy as np
    import pandas as pd
    import polars as pl
    import pyarrow as pa

    names = [f"c{at}" for at in range(len(table[0]))]
    makers = [
        lambda: np.array(table),
        lambda: pl.DataFrame(table, schema=names, orient="row"),
        lambda: pd.DataFrame(table, columns=names),
        lambda: pd.DataFrame(table),
        lambda: tuple(tuple(row) for row in table),
        lambda: pa.table(pl.DataFrame(table, schema=names, orient="row")),
        lambda: [np.array(row) for row in table],
        lambda: {name: [row[at] for row in table] for at, name in enumerate(names)},
        lambda: iter(table),
    ]
    try:
        return rng.choice(makers)()
    except BaseException:  # The other library does not hold these entries.
        return table


def tables(look: Oracle) -> None:
    rng = look.rng
    name = rng.choice(
        [
            "chi_square",
            "fisher",
            "unconditional",
            "paired",
            "three_way",
            "freeman_halton",
            "trend",
            "linear_by_linear",
            "stratified",
        ]
    )
    function = getattr(rl.tables, name)
    options: dict[str, Any] = {}
    if name in ("unconditional", "paired"):
        options = method(rng, name, with_level(rng, options))
    if name in ("freeman_halton", "trend", "linear_by_linear"):
        options = {"work": rng.choice([0, 10**4, 10**6]), "draws": rng.choice([99, 999])}
        if rng.random() < 0.08:
            options[rng.choice(["work", "draws", "seed"])] = draw.silly(rng)
    if name == "trend":
        trays = [arm(rng) for _ in range(rng.randrange(7))]
        if rng.random() < 0.4:
            options["scores"] = scores(rng, len(trays))
        look.call(function, *(draw.holder(rng, [pair[at] for pair in trays]) for at in (0, 1)), **options)
        return
    rows, columns = (
        (2, 2) if name in ("fisher", "unconditional", "paired") else (rng.randrange(1, 5), rng.randrange(1, 5))
    )
    if rng.random() < 0.05:
        look.call(function, draw.silly(rng), **options)
    elif name in ("three_way", "stratified"):
        rows, columns = (rows, columns) if rng.random() < 0.2 else (2, 2)
        layers = [grid(rng, rows, columns) for _ in range(rng.randrange(5))]
        look.call(function, layers, **(with_level(rng, options) if name == "stratified" else options))
    else:
        if name == "linear_by_linear" and rng.random() < 0.3:
            options["row_scores"] = scores(rng, rows)
        look.call(function, grid(rng, rows, columns, 12 if name != "chi_square" else 2000), **options)


def scores(rng: random.Random, many: int) -> Any:
    made = [rng.choice([rng.randrange(5000), rng.random(), 1e300, -1e300, 0]) for _ in range(many)]
    return draw.silly(rng) if rng.random() < 0.1 else draw.holder(rng, made)


def run(look: Oracle) -> None:
    look.rng.choice([rates, two_rates, several, tables, tables])(look)
