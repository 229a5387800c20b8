"""What can go wrong, and what deserves a warning.

Every error raised by the package is a :class:`RootlingError`; each also inherits the built-in error it resembles.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rootling._words import clean, clean_lines

__all__ = [
    "ChoiceError",
    "CountError",
    "CurveError",
    "FewTraysWarning",
    "Issue",
    "ModelError",
    "NumericError",
    "ReportError",
    "RootlingError",
    "RootlingWarning",
    "StrengthError",
    "StrengthWarning",
    "TrialDataError",
]


@dataclass(frozen=True)
class Issue:
    """One problem in a trial's data: where, what, why and what to do.

    Attributes
    ----------
    code : str
        Stable code, for example ``"rooted_above_stuck"``.
    severity : str
        ``"problem"``, ``"question"`` (only you can tell) or ``"information"``.
    row : int or None
        Row as you see it: in files the header is row 1, in frames the first row is 1.
    column, value : str or None
        Your column name and the entry found there.
    reason, hint : str
        What is wrong, and what to do about it.
    paste : str or None
        The option that would answer it, as it is written in a call.
    """

    code: str
    severity: str = "problem"
    row: int | None = None
    column: str | None = None
    value: str | None = None
    reason: str = ""
    hint: str = ""
    paste: str | None = None

    def __post_init__(self) -> None:
        if self.paste is not None and not _can_be_pasted(self.paste):
            object.__setattr__(self, "paste", None)

    def __str__(self) -> str:
        parts = [] if self.row is None else [f"row {self.row}"]
        if self.column is not None:
            name = self.column if len(self.column) <= LONGEST_NAME else f"{self.column[:LONGEST_NAME]}..."
            parts.append(f'column "{name}"')
        place = ", ".join(parts)
        return clean(f"{place}: {self.reason}; {self.hint}" if place else f"{self.reason}; {self.hint}")


LONGEST_NAME = 80
LONGEST_LINE = 2000
# The answer that most rows have, which is read without parsing.
ONE_ROW = re.compile(r"leave_out=\[([0-9]{1,18})\]")


def _can_be_pasted(options: str) -> bool:
    """True for a text that Python reads as options, and that is no longer than a line to paste can be."""
    if ONE_ROW.fullmatch(options):
        return True
    if len(options) > LONGEST_LINE:
        return False
    try:
        made = ast.parse(f"f({options})", mode="eval").body
        if not isinstance(made, ast.Call) or made.args or not made.keywords:
            return False
        for one in made.keywords:
            ast.literal_eval(one.value)
        return all(one.arg is not None for one in made.keywords)
    except (SyntaxError, ValueError, RecursionError):
        return False


# A name of hundreds of letters would hide the sentence it stands in.
_LONGEST_NAME = 120
_QUOTED = re.compile(r'"(?:[^"\\]|\\.)*"')


def _cut(quoted: re.Match[str]) -> str:
    name = quoted[0]
    return name if len(name) <= _LONGEST_NAME + 2 else f'{name[: _LONGEST_NAME - 2]}..."'


class RootlingError(Exception):
    """The parent of every error raised by the package."""

    # A message is one sentence: a line break in a name becomes a mark. A list of problems has lines of its own.
    _of_lines = False

    def __init__(self, message: str = "") -> None:
        super().__init__(clean_lines(message) if self._of_lines else clean(_QUOTED.sub(_cut, str(message))))


class TrialDataError(RootlingError, ValueError):
    """A file or frame that does not pass its checks; ``issues`` lists every problem found.

    Where options can answer them, ``paste`` is the call that goes on, and the last line of the message.

    Examples
    --------
    >>> from rootling.exceptions import TrialDataError
    >>> issue = {"code": "none_stuck", "row": 3, "reason": "0 stuck", "hint": "correct it"}
    >>> error = TrialDataError("1 problem", [issue])
    >>> print(error.issues[0])
    row 3: 0 stuck; correct it
    """

    _of_lines = True

    def __init__(
        self, message: str, issues: Iterable[Issue | Mapping[str, Any]] = (), paste: str | None = None
    ) -> None:
        super().__init__(message)
        self.paste = paste
        self.issues: tuple[Issue, ...] = tuple(
            issue if isinstance(issue, Issue) else Issue(**dict(issue)) for issue in issues
        )

    def __reduce__(self) -> tuple[type[TrialDataError], tuple[str, tuple[Issue, ...], str | None]]:
        return type(self), (str(self), self.issues, self.paste)

    @classmethod
    def of_input(
        cls, code: str, reason: str, hint: str, column: str | None = None, paste: str | None = None
    ) -> TrialDataError:
        """An error about the input as a whole, or about one of its columns."""
        issue = Issue(code, reason=reason, hint=hint, column=column, paste=paste)
        return cls(f"1 problem in the trial data:\n  {issue}", [issue])


class ChoiceError(RootlingError, ValueError):
    """A name that is not known: an option, a column or a level. The message lists what is known."""


class CountError(RootlingError, ValueError):
    """A count, table, level or margin outside its range."""


class CurveError(RootlingError, ValueError):
    """A strength curve that cannot be drawn."""


class ModelError(RootlingError, ValueError):
    """A model that cannot be set up or fitted."""


class StrengthError(RootlingError, ValueError):
    """A hormone strength that cannot be read, converted or put on one axis with others."""


class NumericError(RootlingError, ArithmeticError):
    """A numeric routine that could not give an answer."""


class ReportError(RootlingError, OSError):
    """A report that could not be written where it was asked for."""


class RootlingWarning(UserWarning):
    """The parent of every warning given by the package."""


class FewTraysWarning(RootlingWarning):
    """Too few trays for the claim that is asked for."""


class StrengthWarning(RootlingWarning):
    """A strength that is unusual for its method."""
