"""The reader of the words of a command; its mistakes are told in our own words."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from rootling._given import nearest, shortened
from rootling.command.mistakes import CommandError

__all__ = ["Parser", "named", "number", "pair", "read", "whole"]


class Form(argparse.RawDescriptionHelpFormatter):
    """Help that begins with how the command is written."""

    def __init__(self, prog: str, **more: Any) -> None:
        super().__init__(prog, **{**more, "max_help_position": 30})

    def add_usage(self, usage: Any, actions: Any, groups: Any, prefix: str | None = None) -> None:
        """The line that shows how it is written."""
        super().add_usage(usage, actions, groups, "Write: " if prefix is None else prefix)

    def _format_args(self, action: argparse.Action, default_metavar: str) -> str:
        """Several words after an option are the first of them and dots."""
        if action.nargs != "+":
            return super()._format_args(action, default_metavar)
        shown = action.metavar if isinstance(action.metavar, tuple) else (str(action.metavar),)
        return " ".join([*shown, "..."])


class Parser(argparse.ArgumentParser):
    """Reads the words of one command."""

    def __init__(self, **more: Any) -> None:
        plain = {"formatter_class": Form, "allow_abbrev": False, "add_help": False}
        if sys.version_info >= (3, 14):
            plain["color"] = False
        super().__init__(**{**plain, **more})
        self.add_argument("-h", "--help", action="help", help="this text")
        self._positionals.title, self._optionals.title = "What stands first", "Also"

    def format_help(self) -> str:
        """The help, with what every command has at its end."""
        groups = self._action_groups
        groups.sort(key=lambda group: group is self._optionals)
        return super().format_help()

    def error(self, message: str) -> NoReturn:
        """What was not understood, and how it is written."""
        raise CommandError(f"{_said(message)}; {self.prog} --help tells how it is written")

    def options(self) -> list[str]:
        """Every option that is known here."""
        return [one for action in self._actions for one in action.option_strings]

    def dests(self) -> list[str]:
        """The name of every option's value."""
        return [one.dest for one in self._actions if one.option_strings and one.dest != "help"]


def read(parser: Parser, words: Sequence[str]) -> argparse.Namespace:
    """The words of a command as values; a word too many is told with the nearest that is known."""
    found, left = parser.parse_known_args(list(words))
    own: Parser = getattr(found, "parser", parser)
    if left:
        strange = next((one for one in left if one.startswith("-")), left[0])
        name = strange.split("=")[0]
        near = nearest(name, own.options()) if name.startswith("--") else None
        ask = f"did you mean {near}? " if near else ""
        more = "" if strange.startswith("-") else "names with spaces stand in quotation marks, and "
        raise CommandError(
            f"{own.prog} does not know {shortened(strange)}; {ask}{more}{own.prog} --help tells how it is written"
        )
    return found


def _said(message: str) -> str:
    """An error of the reader in our own words."""
    required = re.fullmatch(r"the following arguments are required: (.*)", message)
    if required is not None:
        hint = "; FILE stands before the options" if "FILE" in required[1] else ""
        names = required[1].split(", ")
        return f"{' and '.join(names)} {'is' if len(names) == 1 else 'are'} missing{hint}"
    choice = re.search(r"invalid choice: (.*) \(choose from (.*)\)", message, re.DOTALL)
    if choice is not None:
        known = re.findall(r"[\w-]+", choice[2])
        near = nearest(choice[1].strip("'\""), known)
        ask = f"did you mean {near}? They" if near else "they"
        return f"there is no command {shortened(choice[1].strip(chr(39)))}; {ask} are {', '.join(known)}"
    few = re.fullmatch(r"argument (\S+).*: expected (at least )?(\w+) arguments?", message)
    if few is not None:
        return (
            f"{few[1].split('/')[-1]} needs {few[2] or ''}{few[3]} more word{'' if few[3] == 'one' else 's'} after it"
        )
    return re.sub(r"^argument (\S+): ", lambda found: f"{found[1].split('/')[-1]}: ", message)


def number(text: str) -> float:
    """A number as it is typed."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{shortened(text)} is no number; write one such as 0.1") from None


def whole(text: str) -> int:
    """A whole number as it is typed."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{shortened(text)} is no whole number; write one such as 8") from None


def pair(text: str) -> tuple[str, str]:
    """A column with one of its levels: ``rootstock=K12``."""
    column, sign, level = text.partition("=")
    if not sign or not column or not level:
        raise argparse.ArgumentTypeError(
            f"{shortened(text)} does not say which level of which column; write such as rootstock=K12"
        )
    return column, level


def named(text: str) -> Any:
    """A take, or the take of a level: ``0.6`` or ``2500=0.6``."""
    level, sign, take = text.rpartition("=")
    return (level, number(take)) if sign else number(text)
