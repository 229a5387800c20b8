"""Steps: what a chain from graft to tree is asked, and the chain that follows from the options."""

from __future__ import annotations

import argparse
import os
import shlex
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from rootling._again import verify
from rootling._results import Result
from rootling.command.mistakes import ANSWERED, PROBLEMS, CommandError
from rootling.command.parser import Parser, number, pair, whole
from rootling.command.spoken import option, words_of
from rootling.command.told import ASIDE, say, say_lines, say_notes, say_record, say_result, say_verdict, tell
from rootling.command.waiting import Waiting
from rootling.report import write
from rootling.steps import Steps, load

__all__ = ["QUESTIONS", "add_options", "add_written", "answered", "line", "verified"]

PAIR = 2
ONE, MORE = None, "+"
# Options of a chain: name, how many words, how they are shown, help.
COLUMNS: list[tuple[str, str | None, Any, str]] = [
    ("steps", MORE, "COLUMN", "counts in the order of the chain, what was started first"),
    ("batch", MORE, "COLUMN", "what names a batch; each row is one where none is named"),
    ("season", ONE, "COLUMN", "seasons"),
    ("room", ONE, "COLUMN", "rooms"),
    ("grafter", ONE, "COLUMN", "who did the grafting"),
    ("seedling", ONE, "COLUMN", "cultivar of the seedling"),
    ("rootstock", ONE, "COLUMN", "cultivar of the rootstock"),
    ("scion", ONE, "COLUMN", "cultivar of the scion"),
    ("levels", MORE, "COLUMN", "other columns that batches differ in"),
    ("states", MORE, "COLUMN", "states that may come and go, such as callus"),
    ("last_step", ONE, "COLUMN", "where a row is a plant: the last step it reached"),
    ("plant", ONE, "COLUMN", "what names a plant"),
    ("left", ONE, "COLUMN", "why a plant is followed no further"),
    ("times", ONE, "COLUMN", "how many plants a row stands for"),
    ("parent", ONE, "COLUMN", "the batch that this one was split from"),
]
READING: list[tuple[str, str | None, Any, str]] = [
    ("sheet", ONE, "NAME", "sheet of a workbook"),
    ("header_row", ONE, "ROW", "row with the names of the columns"),
    ("encoding", ONE, "NAME", "how letters are written, such as cp1252"),
    ("leave_out", MORE, "ROW", "rows that are no batches, such as sums"),
    ("checked", MORE, "QUESTION", "questions of the check that you looked into and found all right"),
    ("bad_rows", ONE, "WHAT", "stop, or set-aside: go on without rows that cannot be used, and list them"),
]
PAIRS = {
    "taken_away": ("STEP=COLUMN", "steps with the column of plants that left alive after them"),
    "dates": ("STEP=COLUMN", "steps with the column of their day"),
    "treatments": ("COLUMN=STEP", "treatments with the step before which plants get them"),
}
LOADING = (*(name for name, *_ in (*COLUMNS, *READING)), *PAIRS, "day_first")
WHOLE = ("header_row", "leave_out")


def _yields(steps: Steps, asked: argparse.Namespace) -> Result:
    return steps.yields(**_given(asked, "confidence", "draws", "seed"), **_whose(asked), **_costs(asked))


def _to_start(steps: Steps, asked: argparse.Namespace) -> Result:
    return steps.to_start(asked.number, **_given(asked, "assurance", "season_sd", "batch_size"), **_costs(asked))


def _sure_of(steps: Steps, asked: argparse.Namespace) -> Result:
    return steps.sure_of(asked.number, **_given(asked, "assurance", "season_sd", "batch_size"), **_costs(asked))


def _compare(steps: Steps, asked: argparse.Namespace) -> Result:
    column, *levels = asked.column
    more = {**_given(asked, "confidence"), **_whose(asked)}
    if not levels:
        return steps.compare_all(column, **more)
    if len(levels) != PAIR:
        raise CommandError(
            f"--column {shlex.join(asked.column)} names {len(levels)} level{'s' if len(levels) > 1 else ''}; name two, "
            "of which the second is set against the first, or none for all"
        )
    return steps.compare(column, *levels, **more)


# Each question: what is told of it, what is needed beside the table, its own options, and what answers it.
QUESTIONS: dict[str, tuple[str, str, tuple[str, ...], Callable[[Steps, argparse.Namespace], Result]]] = {
    "yields": (
        "takes of all steps, the overall yield, and where trees are lost",
        "",
        ("whose", "confidence", "draws", "seed", "costs"),
        _yields,
    ),
    "to-start": (
        "how many to start for so many at the end",
        " --number NUMBER",
        ("number", "assurance", "season_sd", "batch_size", "costs"),
        _to_start,
    ),
    "sure-of": (
        "how many can be promised of so many started",
        " --number NUMBER",
        ("number", "assurance", "season_sd", "batch_size", "costs"),
        _sure_of,
    ),
    "compare": (
        "two seasons, rooms, grafters or cultivars side by side, or all of them",
        " --column COLUMN [LEVEL LEVEL]",
        ("column", "whose", "confidence"),
        _compare,
    ),
}
OPTIONS: dict[str, dict[str, Any]] = {
    "column": {
        "nargs": "+",
        "metavar": ("COLUMN", "LEVEL"),
        "required": True,
        "help": "what is compared; with two levels these alone, the second against the first",
    },
    "number": {"type": whole, "metavar": "NUMBER", "required": True, "help": "plants wanted at the end, or started"},
    "whose": {"metavar": "WHAT", "help": "followed-cohorts, or current-rates: each step at the rate it has now"},
    "confidence": {"type": number, "metavar": "SHARE", "help": "of intervals; 0.95 if not said"},
    "assurance": {"type": number, "metavar": "SHARE", "help": "the chance asked for; 0.95 if not said"},
    "season_sd": {"type": number, "metavar": "NUMBER", "help": "how seasons differ, on the log odds; 0 for one alike"},
    "batch_size": {"type": number, "metavar": "NUMBER", "help": "plants of a batch; as in the table if not said"},
    "draws": {"type": whole, "metavar": "NUMBER", "help": "sets of batches drawn; 999 if not said"},
    "seed": {"type": whole, "metavar": "NUMBER", "help": "of the draws; 1 if not said"},
    "record": {"metavar": "RECORD", "required": True, "help": "the file of the record, as --json gave it"},
    "costs": {"nargs": "+", "metavar": "COST", "help": "of each plant started: 1.9; or grafted=1.9 second_graft=0.8"},
}


def add_options(parser: Parser, own: tuple[str, ...]) -> None:
    """The table, what is asked, its columns, and what is written."""
    parser.add_argument("file", metavar="FILE", help="the table: csv, xlsx or parquet")
    asked = parser.add_argument_group("What is asked")
    for name in own:
        asked.add_argument(option(name), **OPTIONS[name])
    columns = parser.add_argument_group("Which column is what")
    for name, count, shown, told in COLUMNS:
        columns.add_argument(option(name), nargs=count, metavar=shown, required=name == "steps", help=told)
    for name, (shown, told) in PAIRS.items():
        columns.add_argument(option(name), nargs="+", type=pair, metavar=shown, help=told)
    reading = parser.add_argument_group("How the table is read, where it is not plain")
    for name, count, shown, told in READING:
        kind: dict[str, Any] = {"type": whole} if name in WHOLE else {}
        reading.add_argument(option(name), nargs=count, metavar=shown, help=told, **kind)
    reading.add_argument("--day-first", action="store_true", default=None, help="3/4/2026 is the third of April")


def add_written(parser: Parser) -> None:
    """The report that is written beside the answer."""
    written = parser.add_argument_group("What is written")
    written.add_argument("-o", "--output", metavar="REPORT", help="a report too: report.html, report.docx, .md or .tex")
    written.add_argument("--title", metavar="TEXT", help="its heading")
    written.add_argument("--replace", action="store_true", help="put it in the place of an earlier report")


def answered(asked: argparse.Namespace) -> int:
    """One answer of a chain, and its report where one is asked for."""
    target = None if asked.output is None else Path(asked.output)
    if target is not None and os.path.lexists(target) and not asked.replace:
        raise CommandError(
            f"there is {str(target)!r} already, so it is left as it is; name another, or add --replace to put the new "
            "report in the place of an earlier one"
        )
    with Waiting("Working"):
        steps = load(asked.file, **_loading(asked))
        result = QUESTIONS[asked.verb][-1](steps, asked)
        written = None if target is None else write(result, target, title=asked.title)
    if asked.json:
        say_record(result.to_json(indent=1))
    else:
        say_result(result) if written is None else say(result.sentence)
        say_notes(steps.notes)
        say_lines(map(str, steps.set_aside), ASIDE)
    if written is not None:
        tell(f"The report is {str(written)!r}.")
    return ANSWERED


def verified(asked: argparse.Namespace) -> int:
    """The question of a record of this chain asked again, and whether the same comes out."""
    with Waiting("Working"):
        found = verify(Path(asked.record), load(asked.file, **_loading(asked)), seed=asked.seed)
    say_verdict(found, as_json=asked.json)
    return ANSWERED if found.agrees else PROBLEMS


def line(asked: argparse.Namespace, given: Mapping[str, Any]) -> str:
    """The command again, with what loading is to be given now."""
    own: Parser = asked.parser
    told = [*own.prog.split(), asked.file]
    for name in own.dests():
        value = getattr(asked, name, None)
        if name not in LOADING and value not in (None, False):
            told += words_of(name, value)
    return shlex.join([*told, *(word for name, value in given.items() for word in words_of(name, value))])


def _given(asked: argparse.Namespace, *names: str) -> dict[str, Any]:
    return {name: getattr(asked, name) for name in names if getattr(asked, name, None) is not None}


def _whose(asked: argparse.Namespace) -> dict[str, Any]:
    return _given(asked, "whose")


def _costs(asked: argparse.Namespace) -> dict[str, Any]:
    """A number for each plant started, or one for each step."""
    if not asked.costs:
        return {}
    if len(asked.costs) == 1 and "=" not in asked.costs[0]:
        return {"costs": _cost(asked.costs[0])}
    parted = [one.rpartition("=") for one in asked.costs]
    if not all(sign for _, sign, _ in parted):
        raise CommandError("--costs is one number, or a number for each step: --costs grafted=1.9 second_graft=0.8")
    return {"costs": {column: _cost(cost) for column, _, cost in parted}}


def _cost(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise CommandError(f"--costs {text} is no number; write --costs 1.9, or grafted=1.9 second_graft=0.8") from None


def _loading(asked: argparse.Namespace) -> dict[str, Any]:
    """The options of loading that were given, as loading takes them."""
    given = _given(asked, *LOADING)
    for name in PAIRS:
        if name in given:
            given[name] = dict(given[name])
    if len(given.get("batch", ())) == 1:
        (given["batch"],) = given["batch"]
    return given
