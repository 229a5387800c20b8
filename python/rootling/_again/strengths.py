"""What a record tells of its strengths beside what the trial says: equal numbers may be of another substance."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["of_other_strengths"]

# A strength as texts say it: "5000 mg/L IBA".
SAID = re.compile(
    r"(?<![\w.])\d[\d.,]* (?P<unit>g/L|mg/L|mg/kg|ppm w/v|ppm w/w|% w/v|% w/w|mM)(?!\w)(?: (?P<of>[A-Z][\w-]*))?"
)
# The parts of a record that are read for it.
TOLD = ("sentence", "details", "table", "notes", "methods", "made_with")


def of_other_strengths(result: Any, data: Any) -> str | None:
    """That substance or unit of the record are not those of the trial; none where both agree or one says nothing.

    Neither enters the fingerprint, and numbers come out whatever a strength is of.
    """
    options = getattr(getattr(data, "_core", None), "options", None)
    if not isinstance(options, Mapping) or "strength" not in options:
        return None
    record = result.to_dict()
    units, substances = _recorded(record)
    if not units:
        return None
    now = options.get("strength")
    if not isinstance(now, Mapping):
        return f"Strengths: {_named(substances, units)} recorded, nothing said of them now."
    other = now["unit"] not in units or (bool(substances) and now["substance"] not in substances)
    if not other:
        return None
    return f"Strengths: {_named(substances, units)} recorded, {_named({now['substance']}, {now['unit']})} now."


def _recorded(record: Mapping[str, Any]) -> tuple[set[str], set[str]]:
    """Units and substances that a record tells: as it was asked, where that is in it, else by its words."""
    asked = record.get("input")
    given = asked.get("strength") if isinstance(asked, Mapping) else None
    if isinstance(given, Mapping) and given.get("unit"):
        return {str(given["unit"])}, {str(given["substance"])} if given.get("substance") else set()
    units, substances = set(), set()
    for text in (one for part in TOLD for one in _texts(record.get(part))):
        for said in SAID.finditer(text):
            units.add(said["unit"])
            substances |= {said["of"]} if said["of"] else set()
    return units, substances


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, (list, tuple)):
        for one in value:
            yield from _texts(one)


def _named(substances: set[str], units: set[str]) -> str:
    return ", ".join([*sorted(substances), *sorted(units)])
