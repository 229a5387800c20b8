"""Any frame and any bytes: only our own errors come out, and no result holds a NaN."""

from __future__ import annotations

import math
import os
import string
import tempfile
import warnings
from pathlib import Path
from typing import Any

import polars as pl
import rootling as rl
from fuzz import driver, profiles, worker
from hypothesis import given
from hypothesis import strategies as st

NAMES = ["rooted", "stuck", "strength", "tray", "bench"]
ENTRIES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.integers(0, 20),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["", " ", "45 %", "12,5", "NA", "yes", "1e308", "-0", "K12", "k12 ", "\x00", "\ud7ff"]),
)
COUNTS = st.integers(0, 25)


def _has_nan(value: Any) -> bool:
    if isinstance(value, dict):
        return any(_has_nan(part) for part in value.values())
    if isinstance(value, (list, tuple)):
        return any(_has_nan(part) for part in value)
    return isinstance(value, float) and math.isnan(value)


def _ask_everything(trial: rl.Trial) -> None:
    """Asks all questions; each may be refused, but only in our own words."""
    levels = trial.tray_counts()["strength"].unique().sort().to_list()
    asks: list[Any] = [
        lambda: trial.take_rates("strength"),
        lambda: trial.take_rates("strength", trays="ignore"),
        lambda: trial.compare("strength", levels[0], levels[-1]),
        lambda: trial.association("strength"),
        lambda: trial.model(["strength"]).what_matters(),
        lambda: trial.model(["strength"]).odds_ratios(),
        lambda: trial.model(["strength"]).adjusted_rates("strength"),
    ]
    for ask in asks:
        try:
            result = ask()
        except rl.RootlingError:
            continue
        assert not _has_nan(result.to_dict())
        assert repr(result)
        assert rl.Result.from_json(result.to_json()) == result


def _load(data: Any, **roles: Any) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        try:
            trial = rl.load_trial(data, **roles)
        except rl.RootlingError:
            return
        _ask_everything(trial)


def _roles(names: list[str], bad_rows: str) -> dict[str, Any]:
    optional = {"tray": "tray", "block": "bench", "stuck": "stuck"}
    given_roles = {role: name for role, name in optional.items() if name in names}
    return {"rooted": "rooted", "treatments": ["strength"], "bad_rows": bad_rows, **given_roles}


@given(rows=st.lists(st.tuples(*[ENTRIES] * 5), max_size=12), bad_rows=st.sampled_from(["stop", "set-aside"]))
def test_any_dictionary(rows: list[Any], bad_rows: str) -> None:
    _load({name: [row[at] for row in rows] for at, name in enumerate(NAMES)}, **_roles(NAMES, bad_rows))


@given(
    rows=st.lists(
        st.tuples(COUNTS, COUNTS, st.sampled_from([0, 2500, 5000]), st.sampled_from("abcdef"), st.sampled_from("xyz")),
        max_size=20,
    ),
    left_out=st.sets(st.sampled_from(["tray", "bench"])),
)
def test_any_counts(rows: list[Any], left_out: set[str]) -> None:
    columns = {name: [row[at] for row in rows] for at, name in enumerate(NAMES) if name not in left_out}
    columns["stuck"] = [a + b for a, b in zip(columns["rooted"], columns["stuck"], strict=True)]
    _load(columns, **_roles(list(columns), "set-aside"))


TYPES = [
    pl.Int8,
    pl.UInt64,
    pl.Float32,
    pl.Boolean,
    pl.String,
    pl.Categorical,
    pl.Date,
    pl.Null,
    pl.Binary,
    pl.List(pl.Int8),
]


@given(types=st.tuples(*[st.sampled_from(TYPES)] * 5), height=st.integers(0, 4))
def test_any_column_types(types: tuple[Any, ...], height: int) -> None:
    frame = pl.DataFrame(
        [pl.Series(name, [None] * height, dtype=kind) for name, kind in zip(NAMES, types, strict=True)]
    )
    _load(frame, **_roles(NAMES, "set-aside"))


LINES = st.lists(st.text(alphabet=string.digits + ',;"\t\n\r abK%.-é', max_size=30), max_size=8).map("\n".join)


@given(
    text=st.one_of(
        st.binary(max_size=200), LINES.map(str.encode), LINES.map(lambda t: (",".join(NAMES) + "\n" + t).encode())
    )
)
def test_any_bytes(text: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "trial.csv"
        path.write_bytes(text)
        _load(path, **_roles(NAMES, "set-aside"))


@given(
    counts=st.tuples(*[st.integers(-3, 2**60)] * 4),
    level=st.floats(),
    method=st.sampled_from(["wilson", "blaker", "mid-p", "x"]),
)
def test_any_plain_numbers(counts: tuple[int, ...], level: float, method: str) -> None:
    small = tuple(count % 400 - 3 for count in counts)
    for ask in (
        lambda: rl.rates.interval(*small[:2], method=method, confidence=level),
        lambda: rl.rates.interval(*counts[:2], confidence=level),
        lambda: rl.compare.difference(*small, confidence=level),
        lambda: rl.compare.ratio(*small, confidence=level),
        lambda: rl.compare.odds_ratio(*small, confidence=level),
        lambda: rl.compare.difference(*counts),
    ):
        try:
            found = ask().to_dict()
        except rl.RootlingError:
            continue
        assert not _has_nan(found)


def test_seeded_cases() -> None:
    """The short profile; ``ROOTLING_FUZZ=1000000`` makes it the long one, which goes on where it was stopped."""
    cases = os.environ.get("ROOTLING_FUZZ")
    tally = profiles.long(int(cases)) if cases else profiles.short()
    assert not tally.found, "\n".join([*tally.lines(), "run one again: python -m fuzz FIELD NUMBER, in tests/python"])


def test_a_case_is_made_again_from_its_number() -> None:
    for name in ("csv", "counts", "verbs"):
        first, second = worker.case(name, 7), worker.case(name, 7)
        assert first.calls == second.calls
        assert first.digest.hexdigest() == second.digest.hexdigest()


def test_a_worker_that_dies_or_hangs_is_laid_at_the_door_of_its_case(monkeypatch) -> None:
    monkeypatch.setattr(driver, "BUSY", 2.0)
    tally = driver.Tally()
    driver.run(tally, "broken", 0, 4)
    assert tally.cases == {"broken": 4}
    assert {one.number: one.signature.split(":")[0] for one in tally.found.values()} == {1: "abort", 2: "hang"}
