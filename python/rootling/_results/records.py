"""Records as JSON, and back: plain dictionaries, lists and values, with infinite numbers spelled; and their schema."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from rootling.exceptions import ChoiceError

SCHEMA = Path(__file__).with_name("records.schema.json")


def record_schema() -> dict[str, Any]:
    """What records hold, as a JSON Schema: of every kind of result, of models and of plans.

    Its ``version`` changes where a field goes or means something else; a field more does not change it.

    Returns
    -------
    dict
        The schema (draft 2020-12), for whatever checks or reads the records that ``to_json`` writes.

    Examples
    --------
    >>> import rootling as rl
    >>> schema = rl.record_schema()
    >>> schema["version"], "comparison" in schema["properties"]["kind"]["enum"]
    (1, True)
    """
    found: dict[str, Any] = json.loads(SCHEMA.read_text(encoding="utf-8"))
    return found


def copy_record(value: Any) -> Any:
    """A deep copy made of plain dictionaries, lists and values."""
    if isinstance(value, Mapping):
        return {str(name): copy_record(part) for name, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [copy_record(part) for part in value]
    return value


def write_record(record: dict[str, Any], indent: int | None) -> str:
    """A record as JSON; infinite numbers are spelled, and ``non_finite`` lists where."""
    found: list[list[Any]] = []
    plain = _spell_non_finite(record, (), found)
    if found:
        plain["non_finite"] = found
    return json.dumps(plain, indent=indent, ensure_ascii=False, allow_nan=False)


def read_record(text: str) -> dict[str, Any]:
    """The record written by :func:`write_record`."""
    try:
        record = json.loads(text)
        if not isinstance(record, dict):
            raise TypeError("a JSON object is wanted")
        for path in record.pop("non_finite", []):
            place: Any = record
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = math.nan if place[path[-1]] is None else float(place[path[-1]])
    except (ValueError, TypeError, LookupError, RecursionError, OverflowError) as error:
        raise ChoiceError(f"this is not the record of a result: {error}") from None
    return record


def _spell_non_finite(value: Any, path: tuple[Any, ...], found: list[list[Any]]) -> Any:
    if isinstance(value, dict):
        return {name: _spell_non_finite(part, (*path, name), found) for name, part in value.items()}
    if isinstance(value, list):
        return [_spell_non_finite(part, (*path, at), found) for at, part in enumerate(value)]
    if isinstance(value, float) and not math.isfinite(value):
        found.append(list(path))
        return "inf" if value > 0 else "-inf" if value < 0 else None
    return value
