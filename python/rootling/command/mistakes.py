"""Commands that are not understood, and the codes that a command ends with."""

from __future__ import annotations

from rootling.exceptions import (
    CurveError,
    ModelError,
    NumericError,
    RootlingError,
    StrengthError,
    TrialDataError,
)

__all__ = ["ANSWERED", "CODES", "MISUNDERSTOOD", "PROBLEMS", "STOPPED", "CommandError", "code_of"]

ANSWERED, PROBLEMS, MISUNDERSTOOD, STOPPED = 0, 1, 2, 130

CODES = """Every command ends with a code:
  0    answered
  1    the data have problems, hold too little for the question, or do not
       give what was recorded
  2    the command was not understood, or a file is not there or in the way
  130  stopped by Ctrl-C"""

# Issues of what the command names: a table, a sheet or a column that is not there.
NAMED = {"no_file", "unknown_file", "no_reader", "unknown_column", "unknown_sheet", "several_sheets"}


class CommandError(RootlingError, ValueError):
    """A command that says too little, too much, or something that is not known."""


def code_of(error: RootlingError) -> int:
    """The code that a command ends with after an error.

    >>> code_of(CommandError("what is asked?")), code_of(ModelError("no fit"))
    (2, 1)
    """
    if isinstance(error, TrialDataError):
        wrong = {one.code for one in error.issues if one.severity != "information"}
        return MISUNDERSTOOD if wrong and wrong <= NAMED else PROBLEMS
    return PROBLEMS if isinstance(error, (ModelError, CurveError, StrengthError, NumericError)) else MISUNDERSTOOD
