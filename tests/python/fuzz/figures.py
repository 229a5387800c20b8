"""What the numbers of a result must keep to, whatever was asked."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

IS_P = re.compile(r"(p|p_adjusted|.*_p)")
SHARES = {"take_rates", "adjusted_rates", "predictions"}
BOUNDS = {
    "interval": (0.0, 1.0),
    "difference": (-1.0, 1.0),
    "ratio": (0.0, math.inf),
    "odds_ratio": (0.0, math.inf),
    "equivalence": (-1.0, 1.0),
}


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _of_dict(record: dict[str, Any], path: str) -> Iterator[str]:
    for name, value in record.items():
        if _number(value) and IS_P.fullmatch(name) and not 0 <= value <= 1:
            yield f"{path}.{name} = {value!r} is no P value"
    low, value, high = (record.get(name) for name in ("low", "value", "high"))
    if _number(low) and _number(high) and not low <= high:
        yield f"{path}: low {low!r} above high {high!r}"
    if _number(value) and ((_number(low) and low > value) or (_number(high) and high < value)):
        yield f"{path}: {value!r} outside {low!r} to {high!r}"


def faults(value: Any, path: str = "") -> Iterator[str]:
    """What is impossible in a record: NaN, P values outside 0 to 1, an estimate outside its limits."""
    if isinstance(value, dict):
        yield from _of_dict(value, path)
        for name, part in value.items():
            yield from faults(part, f"{path}.{name}")
    elif isinstance(value, (list, tuple)):
        for part in value:
            yield from faults(part, f"{path}[]")
    elif isinstance(value, float) and math.isnan(value):
        yield f"{path} is NaN"


def outside(rows: list[dict[str, Any]], low: float, high: float) -> Iterator[str]:
    """Rows of a table whose estimate or limits lie outside what they can be."""
    for row in rows:
        for name in ("value", "low", "high", "rooted_share", "tray_rate"):
            found = row.get(name)
            if _number(found) and not low <= found <= high:
                yield f"table: {name} {found!r} outside {low} to {high}"


def table_faults(kind: str, table: Any) -> Iterator[str]:
    """What is impossible in a table."""
    rows = table.to_dicts()
    for row in rows:
        yield from _of_dict(row, "table")
        yield from (f"table: {name} is NaN" for name, v in row.items() if isinstance(v, float) and math.isnan(v))
    if kind in SHARES:
        yield from outside(rows, 0.0, 1.0)


def alike(first: Any, second: Any, rel: float) -> bool:
    """The same record, numbers to a relative difference."""
    if isinstance(first, dict) and isinstance(second, dict):
        return first.keys() == second.keys() and all(alike(first[name], second[name], rel) for name in first)
    if isinstance(first, (list, tuple)) and isinstance(second, (list, tuple)):
        return len(first) == len(second) and all(alike(a, b, rel) for a, b in zip(first, second, strict=True))
    if isinstance(first, float) and isinstance(second, float):
        return first == second or abs(first - second) <= rel * max(abs(first), abs(second))
    return bool(first == second)


def first_change(first: Any, second: Any, path: str = "") -> str:
    """Where two records part."""
    if isinstance(first, dict) and isinstance(second, dict) and first.keys() == second.keys():
        return next((t for n in first if (t := first_change(first[n], second[n], f"{path}.{n}"))), "")
    if isinstance(first, list) and isinstance(second, list) and len(first) == len(second):
        pairs = enumerate(zip(first, second, strict=True))
        return next((t for at, (a, b) in pairs if (t := first_change(a, b, f"{path}[{at}]"))), "")
    return "" if first == second else f"{path}: {str(first)[:200]!r} against {str(second)[:200]!r}"
