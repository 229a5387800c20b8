"""What a write-up must tell of a trial and no column holds: kept with it, compared with the counts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from rootling._results import Note

__all__ = ["TOLD", "About"]

# What can be told, and how a report calls it.
TOLD = {
    "rooted": "Rooted means",
    "set_date": "Set on",
    "reading_date": "Read on",
    "randomisation": "Treatments were dealt out",
    "losses": "Lost",
    "planned_units": "Planned",
}
# Levels that a caution names one by one.
SHOWN = 6

# For each treatment and level, the fewest and the most days from setting to reading.
Ages = Mapping[str, Mapping[str, tuple[int, int]]]


@dataclass(frozen=True)
class About:
    """What was told with ``load_trial(about=...)``.

    Attributes
    ----------
    told : mapping
        What was told, as text, by its name.
    ages : mapping
        Where setting and reading have a column or a day each: by treatment and level, the fewest and the most days
        between them.

    Examples
    --------
    >>> About({"rooted": "one root of 1 mm or more"}).lines
    ('Rooted means: one root of 1 mm or more.',)
    """

    told: Mapping[str, str] = field(default_factory=dict)
    ages: Ages = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "told", MappingProxyType(dict(self.told)))

    def __bool__(self) -> bool:
        return bool(self.told)

    def __reduce__(self) -> Any:
        return About, (dict(self.told), {name: dict(levels) for name, levels in self.ages.items()})

    @property
    def lines(self) -> tuple[str, ...]:
        """What was told, a fact a line."""
        units = {"planned_units": " units"}
        found = [
            f"{head}: {self.told[name].rstrip('.')}{units.get(name, '')}."
            for name, head in TOLD.items()
            if name in self.told
        ]
        days = sorted({day for levels in self.ages.values() for pair in levels.values() for day in pair})
        return (*found, *([f"Read after: {_days(days[0], days[-1])}."] if days else []))

    def notes(self, n_units: int, lost: int) -> tuple[Note, ...]:
        """Cautions that follow: arms read at different ages, fewer or more units than were planned.

        Parameters
        ----------
        n_units, lost : int
            Units that enter, and rows that were set aside.

        Examples
        --------
        >>> ages = {"strength": {"2500": (42, 42), "5000": (49, 56)}}
        >>> About({"rooted": "a root"}, ages).notes(12, 0)[0].text[:78]
        'Levels of strength were read at different ages: 2500 after 42 days, 5000 after'
        """
        apart = [name for name, levels in self.ages.items() if len(set(levels.values())) > 1]
        found = [Note("read_at_different_ages", _apart(name, self.ages[name])) for name in apart]
        planned = int(self.told.get("planned_units", 0))
        if planned > n_units + lost:
            found.append(
                Note(
                    "fewer_units_than_planned",
                    f"{planned} units were planned and {n_units} enter: where the end was chosen after a look at the "
                    "counts, P values and intervals promise more than they hold.",
                )
            )
        if planned and n_units > planned:
            found.append(
                Note(
                    "more_units_than_planned",
                    f"{planned} units were planned and {n_units} enter: where units were added after a look at the "
                    "counts, P values and intervals promise more than they hold, as where a trial is ended by one.",
                )
            )
        return tuple(found)


def _days(fewest: int, most: int) -> str:
    return f"{fewest} days" if fewest == most else f"{fewest} to {most} days"


def _apart(name: str, levels: Mapping[str, tuple[int, int]]) -> str:
    told = [f"{level} after {_days(*days)}" for level, days in levels.items()]
    more = f" and {len(told) - SHOWN} more levels" if len(told) > SHOWN else ""
    return (
        f"Levels of {name} were read at different ages: {', '.join(told[:SHOWN])}{more}. A difference "
        "between them may be one of time."
    )
