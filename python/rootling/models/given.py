"""Weights, shares and levels that a model is asked with, as the core reads them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any

import polars as pl

from rootling import _frames
from rootling._given import shortened, spelled
from rootling._given.choices import AverageOver, ContrastPattern
from rootling.exceptions import ChoiceError


def averaged(average: AverageOver) -> Any:
    """The averaging as the core reads it: a name, or shares per factor and level."""
    if isinstance(average, Mapping):
        return {"mix": {str(name): _numbers(f"average= of {name}", shares) for name, shares in average.items()}}
    if average not in ("alike", "as-stuck"):
        raise ChoiceError(
            f"average {shortened(average)} is not known; use 'alike', 'as-stuck' or a mix such as "
            "{'rootstock': {'K12': 0.6, 'K17': 0.4}}"
        )
    return average


def held(at: Mapping[str, Any] | None) -> dict[str, str]:
    """Values at which factors and covariates are held."""
    if at is not None and not isinstance(at, Mapping):
        raise ChoiceError(f"at= needs a value per column, for example {{'rootstock': 'K12'}}; got {shortened(at)}")
    return {str(name): spelled(value) for name, value in (at or {}).items()}


_PATTERNS = ("all-pairs", "control", "steps", "trend")


def weighted(pattern: ContrastPattern) -> Any:
    """The pattern of contrasts as the core reads it: a name, or weights per level, several under names of their own."""
    if isinstance(pattern, Mapping):
        several = pattern and all(isinstance(weights, Mapping) for weights in pattern.values())
        named = pattern if several else {"": pattern}
        return {"weights": [[str(name), _numbers("pattern=", weights)] for name, weights in named.items()]}
    if pattern not in _PATTERNS:
        raise ChoiceError(
            f"pattern {shortened(pattern)} is not known; use one of {', '.join(map(repr, _PATTERNS))} or weights per "
            "level such as {0: -1, 2500: 0.5, 5000: 0.5}"
        )
    return pattern


def _numbers(what: str, shares: Any) -> dict[str, float]:
    """Levels with a number each."""
    if not isinstance(shares, Mapping):
        raise ChoiceError(
            f"{what} needs a number per level, for example {{'K12': 0.5, 'K17': 0.5}}; got {shortened(shares)}"
        )
    made: dict[str, float] = {}
    for level, share in shares.items():
        if isinstance(share, bool) or not hasattr(share, "__float__"):
            raise ChoiceError(f"{what}: {shortened(share)} for {level!r} is not a number")
        made[spelled(level)] = float(share)
    return made


def not_a_name(given: Any, columns: Sequence[str]) -> None:
    """The name of an effect is no table of rows: says what is wanted, and what gives a rate for each of its levels."""
    if isinstance(given, str) and given in columns:
        wanted = ", ".join(f"{name!r}: [...]" for name in columns)
        raise ChoiceError(
            f"predict wants rows, one for each rate to expect, as a table, a file or {{{wanted}}}; got the name "
            f"{shortened(given)}. For the rate of each of its levels ask adjusted_rates({given!r})"
        )


def levels_of_rows(given: Any, columns: Sequence[str]) -> list[list[str]]:
    """The levels of each row of a table, a file or a dictionary, in the order of some columns."""
    read = _frames.read(given, list(columns))
    frame = pl.read_csv(BytesIO(read.text), infer_schema=False) if read.text is not None else read.frame
    missing = next((name for name in columns if frame is None or name not in frame.columns), None)
    if frame is None or missing is not None:
        raise ChoiceError(f"predict needs a column for each treatment of the model; {missing!r} is missing")
    rows = list(frame.select(columns).iter_rows())
    for at, row in enumerate(rows, 1):
        for name, level in zip(columns, row, strict=True):
            if level is None:
                raise ChoiceError(f"row {at}, column {name!r}: empty; name a level in every row")
    return [[spelled(level) for level in row] for row in rows]
