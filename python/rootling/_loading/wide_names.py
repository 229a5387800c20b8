"""Names of the columns of a wide sheet that hold a number and a unit, as "1000 ppm", and the levels they mean."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from rootling.exceptions import StrengthError, TrialDataError
from rootling.units import Strength, convert

__all__ = ["ask_of_units", "level_of"]

WITH_UNIT = re.compile(
    r"\s*([0-9]{1,3}(?:[ ,'\u00a0\u202f][0-9]{3})+|[0-9]{1,9}(?:\.[0-9]{1,6})?)(?![0-9.,])\s*((?:[^\s0-9.,].*?)?)\s*"
)
UNIT = re.compile(r"\s*([0-9][0-9., ]*?)\s*([^\s0-9.,].*?)\s*")
# A dot before three figures may part thousands.
TWO_WAYS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")
# Units that are one number in liquids, and in powders.
IN_WATER = {"ppm", "ppmw/v", "mg/l"}
IN_POWDER = {"ppm", "ppmw/w", "mg/kg"}
# Substances that may stand before the number.
SUBSTANCES = {"iba", "k-iba", "naa", "k-naa"}
# What is called so had nothing.
NOTHING = {"control", "untreated", "none", "nil", "water"}

Number = int | float


def ask_of_units(treatment: str, columns: Sequence[str], strength: Mapping[str, Any] | None) -> None:
    """Names such as "1000 ppm" would be levels that are words; asked about where the declared unit is another one."""
    # Several substances are no levels of one.
    if len({first for first in (one.strip().partition(" ")[0].lower() for one in columns) if first in SUBSTANCES}) > 1:
        return
    found = [_read(one, strength) for one in columns]
    read = [one for one in found if one is not None]
    units = {_squeezed(unit) for _, unit in read if unit}
    declared = None if strength is None else _squeezed(str(strength["unit"]))
    if len(read) < len(columns) or not units:
        return
    if units == {declared} and all(_is_number(one, strength) for one in columns):
        return
    numbers = [_plain(text) for text, _ in read]
    levels = None if None in numbers else _levels([n for n in numbers if n is not None], read, strength)
    reason = f'names such as "{columns[-1]}" hold a number and a unit, and would be words without an order'
    if levels is None or len(set(levels)) < len(columns):
        unit = "numbers" if strength is None else strength["unit"]
        hint = f"give each column its level in {unit}, as in wide={{{treatment!r}: {{0: {columns[0]!r}, ...}}}}"
        raise TrialDataError.of_input("unit_in_names", reason, hint, column=treatment)
    paste = f"wide={{{treatment!r}: {dict(zip(levels, columns, strict=True))!r}}}"
    nothing = [one for one in columns if _is_nothing(one)]
    zero = f' and "{nothing[0]}" is 0' if nothing else ""
    converted = strength is not None and levels != numbers
    start = f"in {strength['unit']}, as declared" if converted and strength else "if the numbers are the levels"
    raise TrialDataError.of_input(
        "unit_in_names", reason, f"{start}{zero}, write {paste}", column=treatment, paste=paste
    )


def level_of(column: str, strength: Mapping[str, Any] | None) -> str:
    """The level that a column's name says: its number, where the declared unit stands behind it."""
    found = UNIT.fullmatch(column)
    same = found is not None and strength is not None and _squeezed(found[2]) == _squeezed(str(strength["unit"]))
    return found[1].strip() if found is not None and same else column.strip()


def _is_number(column: str, strength: Mapping[str, Any] | None) -> bool:
    """True where the name's number stands alone once the declared unit is taken off."""
    return not re.search(r"[^0-9., ]", level_of(column, strength))


def _is_nothing(column: str) -> bool:
    return column.strip().lower() in NOTHING


def _read(column: str, strength: Mapping[str, Any] | None) -> tuple[str, str] | None:
    """The number and the unit of a name; the declared substance is no part of the unit."""
    if _is_nothing(column):
        return "0", ""
    substance = "" if strength is None else str(strength["substance"])
    first, _, rest = column.strip().partition(" ")
    found = WITH_UNIT.fullmatch(rest if first.lower() in SUBSTANCES | {substance.lower()} else column)
    if found is None:
        return None
    unit = found[2]
    return found[1], unit[: -len(substance)].strip() if substance and unit.endswith(" " + substance) else unit


def _plain(text: str) -> Number | None:
    """A number without marks of thousands; None where it can be read in two ways."""
    if TWO_WAYS.fullmatch(text):
        return None
    bare = re.sub(r"[^0-9.]", "", text)
    return int(bare) if bare.isdigit() else float(bare)


def _levels(
    numbers: list[Number], read: Sequence[tuple[str, str]], strength: Mapping[str, Any] | None
) -> list[Number] | None:
    """The numbers where their units are one on an axis, else in the declared unit; None where neither is possible."""
    units = {_squeezed(unit) for _, unit in read if unit}
    if strength is None and len(units) == 1:
        return numbers
    both = units if strength is None else {*units, _squeezed(str(strength["unit"]))}
    if len(both) == 1 or both <= IN_WATER or both <= IN_POWDER:
        return numbers
    if strength is None:
        return None
    try:
        return [_converted(one, unit, strength) for one, (_, unit) in zip(numbers, read, strict=True)]
    except StrengthError:
        return None


def _converted(number: Number, unit: str, strength: Mapping[str, Any]) -> Number:
    """A number in the declared unit, to six figures."""
    if not number or not unit:
        return number
    found = float(f"{convert(float(number), Strength(**{**strength, 'unit': unit}), str(strength['unit'])):.6g}")
    return int(found) if found.is_integer() else found


def _squeezed(unit: str) -> str:
    return unit.replace(" ", "").lower()
