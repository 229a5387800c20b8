"""One command from its words to its exit code."""

from __future__ import annotations

import argparse
import contextlib
import os
import shlex
import sys
import warnings
from collections.abc import Mapping, Sequence
from typing import Any

from rootling import __version__
from rootling._guards import quiet
from rootling.command.mistakes import ANSWERED, MISUNDERSTOOD, STOPPED, CommandError, code_of
from rootling.command.parser import Parser, read
from rootling.command.roles import LOADING, STRENGTH, tried
from rootling.command.spoken import option, spoken, words_of
from rootling.command.stepping import QUESTIONS
from rootling.command.told import prepare, tell
from rootling.command.writing import parser_of_all
from rootling.exceptions import RootlingError, RootlingWarning

__all__ = ["main"]


def main(words: Sequence[str] | None = None) -> int:
    """Runs one command.

    Parameters
    ----------
    words : list of str, optional
        What was written after ``rootling``; that of this process when left out.

    Returns
    -------
    int
        0 answered, 1 the data have problems, 2 not understood, 130 stopped by Ctrl-C.

    Examples
    --------
    >>> main(["--version"])  # doctest: +ELLIPSIS
    rootling ...
    0
    """
    try:
        prepare()
        code = _run(sys.argv[1:] if words is None else list(words))
        sys.stdout.flush()
    except KeyboardInterrupt:
        tell("Stopped from the keyboard.")
        return STOPPED
    except BrokenPipeError:
        # Whoever reads has seen enough.
        _leave_output()
        return ANSWERED
    except OSError as error:
        _leave_output()
        tell(f"the output could not be written ({error.strerror or type(error).__name__})")
        return MISUNDERSTOOD
    return code


def _leave_output() -> None:
    """What is left in the stream must not raise once more at the end."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(words: Sequence[str]) -> int:
    parser = parser_of_all()
    asked: argparse.Namespace | None = None
    try:
        asked = read(parser, words)
        if asked.version:
            print(f"rootling {__version__}")
            return ANSWERED
        if not hasattr(asked, "run"):
            raise CommandError(_what_is_missing(asked))
        with warnings.catch_warnings(), quiet():
            # What warns of a trial stands below its answer.
            warnings.simplefilter("ignore", RootlingWarning)
            code: int = asked.run(asked)
            return code
    except RootlingError as error:
        tell(_in_words(error, asked))
        return code_of(error)
    except SystemExit as end:
        return ANSWERED if not end.code else MISUNDERSTOOD


def _what_is_missing(asked: argparse.Namespace) -> str:
    known = "trays-needed, power, precision, smallest-difference, layout"
    if asked.command == "plan":
        return f"rootling plan asks for a question ({known}); rootling plan --help tells of them"
    if asked.command == "steps":
        known = ", ".join(QUESTIONS)
        return f"rootling steps asks for a question ({known}); rootling steps --help tells of them"
    known = "check, answer, report, decide, verify, plan, steps, demo"
    return f"rootling asks for a command ({known}); rootling --help tells of them"


def _in_words(error: RootlingError, asked: argparse.Namespace | None) -> str:
    """The error with options as they are written here."""
    if asked is None or isinstance(error, CommandError):
        return str(error)
    own: Parser = asked.parser
    known = [one[2:].replace("-", "_") for one in own.options() if one.startswith("--")]
    line = getattr(asked, "line", _line)
    return spoken(str(error), known, lambda given: str(line(asked, given)))


def _line(asked: argparse.Namespace, given: Mapping[str, Any]) -> str:
    """The command again, with what loading is to be given now."""
    own: Parser = asked.parser
    told = [*own.prog.split(), *([asked.record] if hasattr(asked, "record") else []), asked.file]
    before, after = tried(asked), given.get("treatments", [])
    after = [after] if isinstance(after, str) else list(after)
    renamed = dict(zip(before, after, strict=False)) if len(before) == len(after) else {}
    for name in own.dests():
        value = getattr(asked, name, None)
        if name not in (*LOADING, *STRENGTH) and value not in (None, False):
            told += _words(name, value, renamed)
    for name, value in given.items():
        if name == "strength":
            parts = {"strength" if part == "column" else part: one for part, one in value.items()}
            told += [word for part, one in parts.items() for word in words_of(part, one)]
        elif name != "treatments" or asked.treatments or not before:
            told += words_of(name, value)
    return shlex.join(told)


def _words(name: str, value: Any, renamed: Mapping[str, str]) -> list[str]:
    """An option of the question, with columns under the names that they have."""
    if name == "at":
        return [option(name), *(f"{renamed.get(column, column)}={level}" for column, level in value)]
    if name == "treatment":
        return [option(name), renamed.get(value[0], value[0]), *value[1:]]
    return words_of(name, renamed.get(value, value) if name == "within" else value)
