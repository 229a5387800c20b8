"""What hostile cases are made of: names, entries, counts, and values that options cannot take."""

from __future__ import annotations

import datetime
import decimal
import fractions
import math
import random
from typing import Any

import numpy as np
import pandas as pd
import polars as pl

PLAIN = ["strength", "rootstock", "bench", "K12", "K17", "K30", "a", "B", "7", "2500", "dark days"]
HOSTILE = [
    "",
    " ",
    "\x00",
    "a\x00b",
    "\x07bell",
    "\x1b[31mred\x1b[0m",
    "two\nlines",
    "two\r\nlines",
    "tab\there",
    "\ud800",
    "K\udfff12",
    "\u202eKcilab",
    "\u2066K12\u2069",
    "K12\u200b",
    "\ufeffK12",
    "K12\u00a0",
    "k12",
    "K12 ",
    "\u041a12",
    "caf\u00e9",
    "cafe\u0301",
    "\uff2b12",
    "x" * 500,
    "two words " * 50,
    "挿し木の発根",
    "生根" * 60,
    "\U0001f333",
    "<script>alert(1)</script>",
    "{{ 7 * 7 }}",
    "=1+1",
    "$x^2$",
    "$\\frac{1}{$",
    "_{a}^{b}",
    "%s %d {0} {}",
    "\\",
    '"',
    '""',
    "'",
    "a,b",
    "a;b",
    "|",
    "*",
    "#",
    "nan",
    "NaN",
    "inf",
    "None",
    "null",
    "true",
    "0",
    "-0",
    "00",
    "0012",
    "1e2",
    "100",
    "1E400",
    "0.30000000000000004",
    "0.3",
    "9007199254740993",
    "9007199254740992",
    "123456789012345678",
    "1,5",
    "1.000",
    "45 %",
    "rooted",
    "value",
    "confidence",
    "p",
    "tray",
    "(block)",
    "a x b",
    "a:b",
    "strength x bench",
    "all",
    "equal",
]


class Odd:
    """An object of no use, with a name of its own."""

    def __repr__(self) -> str:
        return "Odd()"


def silly(rng: random.Random) -> Any:
    """A value that hardly any option can take."""
    makers = [
        lambda: None,
        lambda: rng.random() < 0.5,
        lambda: rng.choice([0, -1, 1, 2, 3, 100, 2**31, 2**53 + 1, 2**63, 2**64, -(2**63) - 1, 10**30, 10**400]),
        lambda: rng.choice([0.0, -0.0, 0.5, 1.0, 1.5, -0.1, 1e-320, 1e308, math.inf, -math.inf, math.nan, 0.95]),
        lambda: rng.choice(HOSTILE + PLAIN),
        lambda: rng.choice(["auto", "x", "AUTO", "auto ", "Wilson", "none"]),
        lambda: b"bytes",
        lambda: [],
        lambda: [rng.choice(HOSTILE)],
        lambda: [1, 2],
        lambda: [[1, 2], [3, 4]],
        lambda: (),
        lambda: ("a", "b"),
        lambda: {},
        lambda: {"a": 1},
        lambda: {1: 2, None: 3},
        lambda: {"strength": [0]},
        lambda: frozenset(["a"]),
        lambda: range(3),
        lambda: np.float64(0.5),
        lambda: np.int64(3),
        lambda: np.bool_(True),
        lambda: np.array(3),
        lambda: np.array([1, 2]),
        lambda: np.array([], dtype=float),
        lambda: np.array(["a", "b"]),
        lambda: np.datetime64("2024-01-01"),
        lambda: decimal.Decimal("NaN"),
        lambda: decimal.Decimal("0.9"),
        lambda: fractions.Fraction(1, 3),
        lambda: 1j,
        lambda: datetime.date(2024, 3, 1),
        lambda: pd.NA,
        lambda: pd.NaT,
        lambda: pd.Series([1, 2]),
        lambda: pl.Series("s", [1, 2]),
        lambda: pl.DataFrame({"a": [1]}),
        lambda: Odd(),
        lambda: Odd,
        lambda: ...,
    ]
    return rng.choice(makers)()


def name(rng: random.Random, hostile: float = 0.2) -> str:
    """A name, seldom a harmless one where ``hostile`` is near 1."""
    if rng.random() >= hostile:
        return rng.choice(PLAIN)
    if rng.random() < 0.7:
        return rng.choice(HOSTILE)
    signs = [chr(rng.randrange(32)), chr(rng.randrange(32, 127)), chr(rng.randrange(127, 0x3000)), "é", "\u200d", "0"]
    return "".join(rng.choice(signs) for _ in range(rng.randrange(1, 12)))


def distinct_names(rng: random.Random, count: int, hostile: float) -> list[str]:
    """As many names, no two the same string."""
    found: dict[str, None] = {}
    while len(found) < count:
        one = name(rng, hostile)
        found.setdefault(one if one not in found else f"{one}{len(found)}")
    return list(found)


def entry(rng: random.Random) -> Any:
    """An entry of a cell."""
    makers = [
        lambda: rng.randrange(30),
        lambda: rng.randrange(30),
        lambda: None,
        lambda: rng.choice([True, False]),
        lambda: rng.choice([-1, 2**31, 2**53, 2**63 - 1, 2**64, 10**25]),
        lambda: rng.choice([0.5, 12.0, -0.0, math.nan, math.inf, -math.inf, 1e308, 1e-310, 3.0000000001]),
        lambda: str(rng.randrange(30)),
        lambda: rng.choice(
            ["45 %", "12,5", "1.000", "NA", "n/a", "-", "yes", "no", "", " 7 ", "7.0", "٣", "½", '"', "7*"]
        ),
        lambda: name(rng, 0.8),
        lambda: decimal.Decimal(rng.choice(["3", "3.5", "NaN", "Infinity", "1E+400", "-0"])),
        lambda: fractions.Fraction(rng.randrange(9), 3),
        lambda: datetime.date(2024, 1, 1 + rng.randrange(28)),
        lambda: datetime.datetime(2024, 1, 1, rng.randrange(24)),
        lambda: datetime.timedelta(days=3),
        lambda: np.int8(5),
        lambda: np.float32(5),
        lambda: rng.choice([pd.NA, pd.NaT]),
        lambda: b"7",
        lambda: [7],
        lambda: {"a": 7},
        lambda: 3j,
        lambda: Odd(),
    ]
    return rng.choice(makers)()


def count(rng: random.Random) -> Any:
    """A number of cuttings, mostly a sound one."""
    draw = rng.random()
    if draw < 0.85:
        return rng.randrange(rng.choice([2, 5, 20, 60]))
    if draw < 0.93:
        return rng.choice([0, 1, 999, 10**5, 10**9, 2**31, 2**53, 2**53 + 1, 10**18])
    return rng.choice([-1, 3.0, 3.5, math.nan, math.inf, None, "3", True, 2**63, 2**64, 10**30, np.int64(4), b"3"])


def holder(rng: random.Random, values: list[Any]) -> Any:
    """A list as a notebook may hold it."""
    makers = [
        lambda: values,
        lambda: tuple(values),
        lambda: np.array(values),
        lambda: pl.Series("n", values, strict=False),
        lambda: pd.Series(values),
        lambda: pl.DataFrame({"n": pl.Series("n", values, strict=False)}),
        lambda: pd.DataFrame({"n": values}),
        lambda: np.array(values, dtype=object),
        lambda: pd.array(values),
    ]
    # A decimal that is no number makes polars print a panic of its own.
    if any(isinstance(one, decimal.Decimal) and not one.is_finite() for one in values):
        makers = [makers[at] for at in (0, 1, 2, 4, 6, 7, 8)]
    try:
        return makers[rng.randrange(len(makers)) if rng.random() < 0.6 else 0]()
    except BaseException:  # The other library does not hold these values.
        return values
