"""What a result counted, and its words: the core owns them, figures and tables ask for them here."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from rootling import _core

if TYPE_CHECKING:
    from rootling._results import Result


ALL = ("take", "survival", "rooted-of-survivors", "grade-reached")


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
