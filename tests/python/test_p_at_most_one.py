"""No P value of any verb or table leaves 0 to 1, wherever it stands in the numbers."""

from __future__ import annotations

import os
import random
import warnings
from collections.abc import Callable, Iterator
from typing import Any, get_args

import polars as pl
import pytest
import rootling as rl
from rootling._given.choices import Adjustment, PairedMethod, TargetMethod, UnconditionalMethod

CASES = int(os.environ.get("ROOTLING_P_CASES", "60"))
NAMES = ("p", "p_adjusted", "doubled", "p_lower", "p_higher", "by_distance", "probability")


def _p_values(value: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """All numbers under a name of a P value."""
    if isinstance(value, dict):
        for key, part in value.items():
            here = f"{path}.{key}"
            is_p = key in NAMES or "mid_p" in key or key.startswith("p_") or key.endswith("_p")
            if is_p and isinstance(part, (int, float)) and not isinstance(part, bool):
                yield here, float(part)
            else:
                yield from _p_values(part, here)
    elif isinstance(value, (list, tuple)):
        for at, part in enumerate(value):
            yield from _p_values(part, f"{path}[{at}]")


def _holds(ask: Callable[[], Any]) -> int:
    """Asks; a refusal in our own words is no P value."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            found = ask()
    except rl.RootlingError:
        return 0
    record = found.to_dict() if hasattr(found, "to_dict") else {"p": found}
    pairs = list(_p_values(record))
    for path, p in pairs:
        assert 0.0 <= p <= 1.0, (path, p)
    return len(pairs)


def _counts(draw: random.Random, rows: int, columns: int) -> list[list[int]]:
    most = draw.choice([1, 3, 12, 60])
    same = draw.randint(0, most)
    alike = draw.random() < 0.3
    return [[same if alike else draw.randint(0, most) for _ in range(columns)] for _ in range(rows)]


def _tables(draw: random.Random) -> Iterator[Callable[[], Any]]:
    two, several = _counts(draw, 2, 2), _counts(draw, draw.randint(2, 4), draw.randint(2, 3))
    strata = [_counts(draw, 2, 2) for _ in range(draw.randint(1, 4))]
    stuck = [draw.randint(1, 30) for _ in range(4)]
    rooted = [draw.randint(0, n) for n in stuck]
    (a, b), (c, d) = two
    yield lambda: rl.tables.chi_square(several)
    yield lambda: rl.tables.fisher(two)
    yield lambda: rl.tables.freeman_halton(several, work=100_000, draws=500)
    yield lambda: rl.tables.linear_by_linear(several, work=100_000, draws=500)
    yield lambda: rl.tables.stratified(strata)
    yield lambda: rl.tables.trend(rooted, stuck)
    yield lambda: rl.tables.trend(rooted, stuck, scores=[0, 0.3, 1.7, 2], work=1, draws=500)
    for method in get_args(PairedMethod):
        yield lambda method=method: rl.tables.paired(two, method=method)
    for method in get_args(UnconditionalMethod):
        yield lambda method=method: rl.tables.unconditional(two, method=method)
    yield lambda: rl.compare.score_test(a, a + b, c, c + d)
    yield lambda: rl.compare.likelihood_ratio_test(a, a + b, c, c + d)
    yield lambda: rl.compare.equivalence(a, a + b, c, c + d, margin=draw.choice([0.05, 0.5, 0.9]))
    for method in get_args(TargetMethod):
        yield lambda method=method: rl.rates.against_target(rooted[0], stuck[0], draw.random(), method=method)
    rates = [draw.choice([0.0, 0.5, 1.0]) for _ in range(6)]
    yield lambda: rl.compare.randomisation(rates[:3], rates[3:], draws=200)


def _trial(draw: random.Random) -> rl.Trial:
    levels, blocks = draw.randint(2, 4), draw.randint(1, 3)
    rate = [draw.choice([0.0, 0.1, 0.5, 1.0]) for _ in range(levels)]
    rows = [
        (f"{s * 1000}", f"B{b}", f"{s}-{b}-{t}", sum(draw.random() < rate[s] for _ in range(8)), 8)
        for s in range(levels)
        for b in range(blocks)
        for t in range(draw.randint(1, 3))
    ]
    frame = pl.DataFrame(rows, schema=["strength", "block", "tray", "rooted", "stuck"], orient="row")
    roles = {"rooted": "rooted", "stuck": "stuck", "tray": "tray", "block": "block" if blocks > 1 else None}
    return rl.load_trial(frame, treatments=["strength"], **roles)


def _verbs(draw: random.Random) -> Iterator[Callable[[], Any]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        trial = _trial(draw)
    yield lambda: trial.compare("strength", "0", "1000")
    yield lambda: trial.compare_all("strength")
    yield lambda: trial.association("strength")
    yield lambda: trial.trend("strength")
    for trays in ("auto", "ignore", "robust"):
        yield lambda trays=trays: trial.model(["strength"], trays=trays).what_matters()
        yield lambda trays=trays: trial.model(["strength"], trays=trays).odds_ratios()
        yield lambda trays=trays: trial.model(["strength"], trays=trays).letters("strength")
        for adjust in ("joint", "scheffe", "tukey-kramer", *get_args(Adjustment)):
            yield lambda trays=trays, adjust=adjust: trial.model(["strength"], trays=trays).contrasts(
                "strength", together=adjust
            )


@pytest.mark.parametrize(("kind", "least"), [(_tables, 1000), (_verbs, 500)])
def test_no_p_value_leaves_its_range(kind: Callable[[random.Random], Iterator[Callable[[], Any]]], least: int) -> None:
    found = 0
    for case in range(CASES if kind is _tables else CASES // 4):
        found += sum(_holds(ask) for ask in kind(random.Random(case)))
    assert found >= least, found


def test_adjusted_p() -> None:
    draw = random.Random(5)
    for _ in range(CASES):
        raw = [draw.choice([0.0, 1.0, draw.random(), 1.0 - 1e-16, 1e-300]) for _ in range(draw.randint(1, 9))]
        for method in get_args(Adjustment):
            found = rl.compare.adjusted_p(raw, method=method)
            assert all(0.0 <= p <= 1.0 for p in found), (method, raw, found)
            assert all(p >= one for p, one in zip(found, raw, strict=True)), (method, raw, found)
