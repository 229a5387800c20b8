"""What a result counted, and its words: the core owns them, figures and tables ask for them here."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from rootling import _core
from rootling._words.columns import own_names

if TYPE_CHECKING:
    import polars as pl

    from rootling._results import Result
    from rootling.trial import Trial


ALL = ("take", "survival", "rooted-of-survivors")


@cache
def words(outcome: str) -> dict[str, str]:
    """The words of an outcome, by what they are for the take.

    >>> words("survival")["per_hundred"], words("survival")["rooted"]
    ('survivors per 100', 'survived')
    """
    found: dict[str, str] = _core.trial.outcome_words(outcome)
    return found


@cache
def plural(noun: str) -> str:
    """A noun for several.

    >>> plural("bench")
    'benches'
    """
    return _core.trial.plural(noun)


def of(result: Result) -> str:
    """Which outcome a result is about; of a record that was edited the take, where it does not say."""
    made = result._record.get("made_with")
    options = made.get("options") if isinstance(made, dict) else None
    pairs = [one for one in options if isinstance(one, list | tuple)] if isinstance(options, list | tuple) else []
    named = next((str(one[1]).replace(" ", "-") for one in pairs if len(one) == 2 and one[0] == "outcome"), "take")
    return named if named in ALL else "take"


def words_of(result: Result) -> dict[str, str]:
    """The words of what a result counted."""
    return words(of(result))


def called_of(result: Result) -> str:
    """What one unit of a curve is called: "tray", or "mother plant" where these are the units."""
    asked = result._record.get("input")
    known = [part.get("called") for part in (result._record, asked) if isinstance(part, dict)]
    return next((one for one in known if isinstance(one, str) and one), "tray")


def open_marks(unit: str) -> str:
    """What a figure says of its open marks: single trays, or single plants where these are the units.

    >>> open_marks("mother_plant")
    'open marks: single mother plants'
    """
    return f"open marks: single {plural(unit)}"


def counts(trial: Trial, outcome: str) -> pl.DataFrame:
    """One row per unit: its treatments, its place, and in ``rooted`` of ``stuck`` what is counted of how many."""
    import polars as pl

    units = trial._core.units if outcome == "take" else trial._core.units_of(outcome)
    roles = ("tray", "block", "whole_plot", "season", "stock_plant")
    factors = [*units["treatments"], *(units[role] for role in roles)]
    columns = [(f["name"], [f["levels"][code] for code in f["codes"]]) for f in factors if f is not None]
    columns += [("rooted", units["rooted"]), ("stuck", units["stuck"])]
    names = own_names([name for name, _ in columns])
    return pl.DataFrame({name: values for name, (_, values) in zip(names, columns, strict=True)})
