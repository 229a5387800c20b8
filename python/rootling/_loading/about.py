"""What is told of a trial beside its counts: looked at, and set beside the days that the table holds."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import check_known, plain, shortened, spelled
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.trial import TOLD, About

if TYPE_CHECKING:
    import polars as pl

__all__ = ["about_of", "days_of", "told_of"]

# Letters that one entry may have.
LONGEST = 2000
DAYS = ("set_date", "reading_date")
EXAMPLE = 'about={"rooted": "one root of 1 mm or more", "reading_date": "2026-05-04"}'


def told_of(given: Any, plan: Any) -> dict[str, str] | None:
    """What the caller tells, as text; what a plan knows stands in where the caller says nothing.

    Examples
    --------
    >>> from datetime import date
    >>> told_of({"set_date": date(2026, 3, 2), "planned_units": 12}, None)
    {'set_date': '2026-03-02', 'planned_units': '12'}
    """
    if given is None:
        return None
    if not isinstance(given, Mapping):
        raise ChoiceError(f"about={shortened(given)} does not say what of the trial is told; write {EXAMPLE}")
    check_known([str(name) for name in given if name not in TOLD], list(TOLD), "about")
    told = {str(name): _text(str(name), plain(value)) for name, value in given.items()}
    return {**_of_plan(plan), **told}


def _text(name: str, value: Any) -> str:
    if name == "planned_units":
        if isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**32:
            return str(value)
        raise ChoiceError(f'about: planned_units={shortened(value)} is no number of trays; write "planned_units": 12')
    if isinstance(value, (date, datetime)):
        return value.isoformat()[:10]
    if isinstance(value, str) and value.strip() and len(value) <= LONGEST:
        return " ".join(value.split())
    if isinstance(value, str) and len(value) > LONGEST:
        raise ChoiceError(f"about: {name} has {len(value)} letters; tell it in {LONGEST} or fewer")
    raise ChoiceError(
        f'about: {name}={shortened(value)} is no text; write "{name}": "..." with what a reader must know'
    )


def _of_plan(plan: Any) -> dict[str, str]:
    """How a plan dealt trays out, and how many it has."""
    if isinstance(plan, (str, os.PathLike)) and Path(plan).suffix.lower() == ".json":
        plan = Result.from_json(Path(plan).read_text(encoding="utf-8"))
    record: Mapping[str, Any] = (
        plan.to_dict() if isinstance(plan, Result) else plan if isinstance(plan, Mapping) else {}
    )
    if record.get("kind") != "layout" or "options" not in record:
        return {}
    options = record["options"]
    dealt = f"by lot in the layout {options['layout']}, seed {options['seed']}"
    return {"randomisation": dealt, "planned_units": str(len(record["trays"]))}


def days_of(told: Mapping[str, str] | None, names: Sequence[str]) -> list[str]:
    """The columns of a table that hold the days told of."""
    named = [(told or {}).get(day) for day in DAYS]
    return [name for name in dict.fromkeys(named) if name is not None and name in names]


def about_of(told: Mapping[str, str] | None, core: Any) -> About:
    """What is kept with the trial: the texts, and the ages at which levels were read where the days are known."""
    if not told:
        return About()
    import polars as pl

    frame = pl.DataFrame(core)
    days = {name: _days(name, told[name], frame) for name in DAYS if name in told}
    if len(days) < len(DAYS) or all(isinstance(one, int) for one in days.values()):
        _in_order(days)
        return About(told)
    treatments = {one["name"]: one["levels"] for one in core.units["treatments"]}
    counted = core.options.get("times") is not None
    return About(told, _ages(days, frame, treatments, counted=counted))


def _days(name: str, told: str, frame: pl.DataFrame) -> int | list[int | None]:
    """The day itself, or the days of the column of that name."""
    if told not in frame.columns:
        found = _core.watch.day_of(told)
        if found is None:
            raise ChoiceError(
                f'about: {name}={shortened(told)} is neither a day nor a column; write "{name}": "2026-03-31", or the '
                "column that holds the days"
            )
        return int(found)
    return [_day(name, told, value) for value in frame[told].to_list()]


def _day(name: str, column: str, value: Any) -> int | None:
    value = value.isoformat()[:10] if isinstance(value, (date, datetime)) else value
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    found = _core.watch.day_of(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ChoiceError(
            f"about: {name} names the column {shortened(column)}, whose entry {shortened(value)} is no day; write days "
            "with the year first, such as 2026-03-31"
        )
    return int(found)


def _in_order(days: Mapping[str, Any]) -> None:
    if len(days) == len(DAYS) and days["reading_date"] < days["set_date"]:
        raise ChoiceError("about: reading_date lies before set_date; correct one of them")


def _ages(
    days: Mapping[str, Any], frame: pl.DataFrame, treatments: Mapping[str, list[str]], *, counted: bool
) -> dict[str, dict[str, Any]]:
    """For each treatment and level that the table names, the fewest and the most days from setting to reading."""
    each = [one if isinstance(one, list) else [one] * frame.height for one in (days[name] for name in DAYS)]
    ages = [None if None in pair else pair[1] - pair[0] for pair in zip(*each, strict=True)]
    wrong = next((at for at, age in enumerate(ages) if age is not None and age < 0), None)
    if wrong is not None and counted:
        raise ChoiceError("about: some rows were read before they were set; correct one of their days")
    if wrong is not None:
        raise ChoiceError(f"about: tray {wrong + 1} of the table was read before it was set; correct one of its days")
    found: dict[str, dict[str, Any]] = {}
    for name, order in treatments.items():
        levels: dict[str, list[int]] = {}
        cells = frame[name].to_list() if name in frame.columns else []
        for cell, age in zip(cells, ages, strict=False):
            if cell is not None and age is not None:
                levels.setdefault(spelled(cell), []).append(age)
        known = sorted(levels, key=lambda level: order.index(level) if level in order else len(order))
        if levels:
            found[name] = {level: (min(levels[level]), max(levels[level])) for level in known}
    return found
