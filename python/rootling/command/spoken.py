"""Sentences that show options as Python has them, shown as options of the command line."""

from __future__ import annotations

import ast
import re
import shlex
from collections.abc import Callable, Iterable, Mapping
from typing import Any

__all__ = ["option", "spoken", "words_of"]

# What may stand between the beginning of a value and its end.
FARTHEST = 2000
CALL = re.compile(r"^(\s*)(?:trial = rl\.load_trial|rl\.load_trial|steps = rl\.steps\.load)\((.*)\)$", re.MULTILINE)
STRENGTH = re.compile(r"strength=rl\.Strength(\([^()]*\))")
COMPARED = re.compile(r"trial\.(?:compare|compare_all|association|trend)(\([^()]*\))")
VERIFIED = re.compile(r"write rl\.verify\(record, (.*)\)$")
# What is told of a trial, as ``about=`` has it.
TOLD = {"rooted": "rooted_means", "planned_units": "planned_trays"}
ABOUT = re.compile(
    r'(?:(?<=\{)|(?<=, )|(?<=write ))"(rooted|set_date|reading_date|randomisation|losses|planned_units)": '
    r'("[^"]*"|\d+)(?=[,}]|$)'
)
OF_ABOUT = re.compile(r"\babout: ([a-z_]+)(=?)")
REPLACED = ", or replace it with overwrite=True"

Line = Callable[[Mapping[str, Any]], str]


def option(name: str) -> str:
    """The option of a name: ``whole_plot`` is ``--whole-plot``."""
    return f"--{name.replace('_', '-')}"


def words_of(name: str, value: Any) -> list[str]:
    """An option and its value as the words of a command.

    >>> words_of("tray", ["bench", "tray"]), words_of("at", {"rootstock": "K12"}), words_of("distinct_levels", True)
    (['--tray', 'bench', 'tray'], ['--at', 'rootstock=K12'], ['--distinct-levels'])
    >>> words_of("wide", {"strength": ["0", "1000"]})
    ['--wide', 'strength', '0', '1000']
    """
    if value is True:
        return [option(name)]
    if isinstance(value, Mapping):
        if any(isinstance(one, Mapping) for one in value.values()):
            raise ValueError("levels with columns of other names have no words")
        found: list[str] = []
        for key, one in value.items():
            several = isinstance(one, (list, tuple))
            found += [option(name), str(key), *map(str, one)] if several else [option(name), f"{key}={one}"]
        return found
    found = [str(one) for one in value] if isinstance(value, (list, tuple)) else [str(value)]
    # What begins like an option is given with a sign between.
    return [f"{option(name)}={found[0]}"] if len(found) == 1 and found[0].startswith("-") else [option(name), *found]


def spoken(text: str, known: Iterable[str], line: Line | None = None) -> str:
    """A message with the options of Python as those of the command line.

    Parameters
    ----------
    text : str
        The message.
    known : iterable of str
        Names that are options here.
    line : callable, optional
        Makes the command that stands for a call of ``load_trial`` with these options.

    Examples
    --------
    >>> spoken('write tray="each-row", or leave tray= out', ["tray"])
    'write --tray each-row, or leave --tray out'
    """
    text = text.replace(REPLACED, "")
    if line is not None:
        text = CALL.sub(lambda found: _line(found, line), text)
    text = STRENGTH.sub(lambda found: _strength(found[1]) or found[0], text)
    text = COMPARED.sub(lambda found: _compared(found[1]) or found[0], text)
    text = ABOUT.sub(lambda found: f"{option(TOLD.get(found[1], found[1]))} {found[2]}", text)
    text = OF_ABOUT.sub(lambda found: option(TOLD.get(found[1], found[1])) + (" " if found[2] else ""), text)
    text = VERIFIED.sub(lambda found: _verified(found[1]), text)
    names = "|".join(sorted(known, key=len, reverse=True))
    found = re.compile(rf"\b({names})=")
    parts, at = [], 0
    while (hit := found.search(text, at)) is not None:
        parts.append(text[at : hit.start()])
        end = _end_of_value(text, hit.end())
        parts.append(_shown(hit[1], text[hit.end() : end]))
        at = end
    return "".join([*parts, text[at:]])


def _line(found: re.Match[str], line: Line) -> str:
    call = _call(f"({found[2]})")
    if call is None:
        return found[0]
    try:
        given = {str(one.arg): _value(one.value) for one in call.keywords}
        return f"{found[1]}{line(given)}"
    except ValueError:
        return found[0]


def _value(node: ast.expr) -> Any:
    """A literal; a strength is the options that it stands for."""
    if isinstance(node, ast.Call):
        named = {str(one.arg): ast.literal_eval(one.value) for one in node.keywords}
        return {"substance": next(ast.literal_eval(one) for one in node.args), **named}
    return ast.literal_eval(node)


def _call(arguments: str) -> ast.Call | None:
    try:
        made = ast.parse(f"f{arguments}", mode="eval").body
    except (SyntaxError, ValueError, RecursionError):
        return None
    return made if isinstance(made, ast.Call) else None


def _strength(arguments: str) -> str | None:
    call = _call(arguments)
    try:
        said = {} if call is None else _value(call)
    except (ValueError, StopIteration):
        return None
    return " ".join(shlex.join(words_of(name, one)) for name, one in said.items()) or None


def _compared(arguments: str) -> str | None:
    call = _call(arguments)
    try:
        levels = [] if call is None else [str(ast.literal_eval(one)) for one in call.args]
    except ValueError:
        return None
    return shlex.join(["--treatment", *levels]) if levels else None


def _verified(what: str) -> str:
    if what == "steps":
        return "write rootling steps verify FILE --record RECORD, with the columns of the chain"
    return "name the table after the record" if what == "trial" else f"that takes Python: rl.verify(record, {what})"


def _end_of_value(text: str, start: int) -> int:
    """Where the value that begins here ends; where it begins if none does."""
    first = text[start : start + 1]
    if first and first in "\"'[({":
        for end in range(start + 1, min(len(text), start + FARTHEST) + 1):
            if text[end - 1] in "\"'])}" and _is_literal(text[start:end]):
                return end
        return start
    plain = re.compile(r"(?:True|False|None|-?\d+(?:\.\d+)?)\b").match(text, start)
    return start if plain is None else plain.end()


def _is_literal(text: str) -> bool:
    try:
        ast.literal_eval(text)
    except (ValueError, SyntaxError, RecursionError, MemoryError):
        return False
    return True


def _shown(name: str, value: str) -> str:
    if not value:
        return option(name)
    given = ast.literal_eval(value)
    try:
        return shlex.join(words_of(name, given))
    except ValueError:
        return f"{name}={value}"
