"""Records that come back from a file or a hand: looked through before a result is made of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from rootling.exceptions import ChoiceError

__all__ = ["check_depth", "check_estimate", "check_result", "check_rows"]

DEEPEST = 40
LARGEST = 2**63
_HINT = "take it again from to_dict() or to_json(), unedited"


def _wrong(what: str) -> ChoiceError:
    return ChoiceError(f"this is not the record of a result: {what}; {_HINT}")


def check_depth(record: Any) -> None:
    """Nothing nested deeper than any record is, and no number that none can hold; walked without recursion."""
    left: list[tuple[Any, int]] = [(record, 0)]
    while left:
        value, depth = left.pop()
        if depth > DEEPEST:
            raise _wrong(f"it is nested more than {DEEPEST} deep")
        if isinstance(value, Mapping):
            left.extend((part, depth + 1) for part in value.values())
        elif isinstance(value, (list, tuple)):
            left.extend((part, depth + 1) for part in value if isinstance(part, (Mapping, list, tuple, int)))
        elif isinstance(value, int) and not isinstance(value, bool) and not -LARGEST <= value <= 2 * LARGEST:
            raise _wrong("a number in it is too large to be one of a result")


def _text(record: Mapping[str, Any], name: str) -> None:
    if not isinstance(record[name], str):
        raise _wrong(f"{name} is no text")


def _texts(record: Mapping[str, Any], name: str) -> None:
    given = record.get(name, [])
    if not isinstance(given, (list, tuple)) or not all(isinstance(one, str) for one in given):
        raise _wrong(f"{name} is no list of texts")


def _notes(given: Any) -> None:
    if not isinstance(given, (list, tuple)):
        raise _wrong("notes is no list")
    for note in given:
        if not isinstance(note, Mapping) or not all(isinstance(note.get(part), str) for part in ("code", "text")):
            raise _wrong("a note has no code or no text")


def _number(value: Any) -> bool:
    return value is None or (isinstance(value, (int, float)) and not isinstance(value, bool))


def _whole(value: Any) -> bool:
    return value is None or (isinstance(value, int) and not isinstance(value, bool) and abs(value) < LARGEST)


_FITS = {"text": lambda value: value is None or isinstance(value, str), "whole": _whole, "number": _number}


def _scale(given: Any, rows: int) -> bool:
    """True for a word, for one of each row, and for none, as records of before have it."""
    if isinstance(given, (list, tuple)):
        return len(given) == rows and all(isinstance(one, str) for one in given)
    return given is None or isinstance(given, str)


def _column(column: Any) -> int:
    if not isinstance(column, Mapping) or not isinstance(column.get("name"), str):
        raise _wrong("a column of its table has no name")
    fits, values = _FITS.get(str(column.get("kind"))), column.get("values")
    if fits is None or not isinstance(values, (list, tuple)) or not all(map(fits, values)):
        raise _wrong(f"the column {column['name']!r} of its table does not hold what its kind says")
    if not all(column.get(name) is None or isinstance(column[name], str) for name in ("unit", "head")):
        raise _wrong(f"unit or head of the column {column['name']!r} of its table is no text")
    if not _scale(column.get("scale"), len(values)):
        raise _wrong(f"the scale of the column {column['name']!r} of its table is no word, nor one for each row")
    return len(values)


def _table(given: Any) -> None:
    columns = given.get("columns") if isinstance(given, Mapping) else None
    if not isinstance(columns, (list, tuple)):
        raise _wrong("table has no list of columns")
    if len({_column(column) for column in columns}) > 1:
        raise _wrong("the columns of its table differ in length")


def check_result(record: Any, faces: tuple[str, ...]) -> None:
    """Refuses, in one sentence, what is not the record of a result."""
    if not isinstance(record, Mapping):
        raise _wrong(f"{type(record).__name__!r} is no dictionary")
    missing = [face for face in faces if face not in record]
    if missing:
        raise _wrong(f"it lacks {', '.join(missing)}")
    check_depth(record)
    for name in ("kind", "sentence", "methods"):
        _text(record, name)
    # A label may hold a line break; what is shown has a mark in its place.
    if not record["sentence"].strip():
        raise _wrong("sentence has no words")
    for name in ("details", "references"):
        _texts(record, name)
    _notes(record["notes"])
    _table(record["table"])
    if not isinstance(record["made_with"], Mapping):
        raise _wrong("made_with is no dictionary")


# Lists of numbers under these names stand beside each other, entry by entry.
_BESIDE = ("strength", "value", "low", "high", "se", "p")


def check_rows(record: Mapping[str, Any], rows: str) -> None:
    """Refuses numbers that do not fit the table or each other: a result left out, a list cut short."""
    found = record.get(rows)
    columns = record["table"]["columns"]
    if isinstance(found, (list, tuple)) and columns and len(found) != len(columns[0]["values"]):
        held, wanted = len(found), len(columns[0]["values"])
        raise _wrong(f"{rows} holds {held} {'entry' if held == 1 else 'entries'} and its table {wanted}")
    for name, part in record.items():
        if name not in ("table", "notes", "made_with"):
            _check_beside(name, part)


def _check_beside(name: str, value: Any) -> None:
    left: list[Any] = [value]
    while left:
        part = left.pop()
        if isinstance(part, Mapping):
            lists = {one: part[one] for one in _BESIDE if isinstance(part.get(one), (list, tuple))}
            if len({len(one) for one in lists.values()}) > 1:
                raise _wrong(f"in {name} the lists {', '.join(lists)} differ in length")
            left.extend(part.values())
        elif isinstance(part, (list, tuple)):
            left.extend(one for one in part if isinstance(one, (Mapping, list, tuple)))


def _one_length(columns: Sequence[Any]) -> None:
    sizes = {len(one) if isinstance(one, (list, tuple)) else None for one in columns if one is not None}
    if len(sizes) > 1:
        raise _wrong("value, low, high and se are not of one length")


def check_estimate(record: Any) -> None:
    """Refuses what is not the record of an estimate."""
    if not isinstance(record, Mapping):
        raise _wrong(f"{type(record).__name__!r} is no dictionary")
    check_depth(record)
    for name in ("value", "low", "high"):
        given = record.get(name)
        several = given if isinstance(given, (list, tuple)) else [given]
        if name not in record or not all(map(_number, several)):
            raise _wrong(f"{name} is no number and no list of numbers")
    confidence = record.get("confidence")
    if not _number(confidence) or confidence is None or math.isnan(confidence):
        raise _wrong("confidence is no number")
    if not isinstance(record.get("method"), str):
        raise _wrong("method is no text")
    spread = record.get("se")
    if not all(map(_number, spread if isinstance(spread, (list, tuple)) else [spread])):
        raise _wrong("se is no number and no list of numbers")
    _one_length([record["value"], record["low"], record["high"], spread])
    _notes(record.get("notes") or [])
    for name in ("sentence", "methods"):
        if record.get(name) is not None:
            _text(record, name)
    for name in ("references", "details"):
        _texts({name: record.get(name) or []}, name)
