"""Options that say which column is what, and the trial that follows from them."""

from __future__ import annotations

import argparse
import re
from collections.abc import Mapping, Sequence
from typing import Any

from rootling._loading import load_trial
from rootling.command.guessed import guesses
from rootling.command.mistakes import CommandError
from rootling.command.parser import Parser, pair, whole
from rootling.command.told import tell
from rootling.command.waiting import Waiting
from rootling.trial import Trial
from rootling.units import Strength

__all__ = ["ABOUT", "LOADING", "STRENGTH", "about", "add_roles", "loaded", "tried"]

ONE, MORE = None, "+"
COLUMNS: list[tuple[str, str | None, Any, str]] = [
    ("rooted", ONE, "COLUMN", "cuttings rooted, a count per tray; or yes and no, with one row per cutting"),
    ("stuck", ONE, "COLUMN", "cuttings stuck; or their number, where every tray had as many: --stuck 20"),
    ("dead", ONE, "COLUMN", "cuttings that died"),
    ("treatments", MORE, "COLUMN", "all that was tried, where it is more than what is asked about"),
    ("tray", MORE, "COLUMN", "trays; each-row where every row is one; --tray bench tray where numbers start afresh"),
    ("block", MORE, "COLUMN", "blocks, such as benches"),
    ("whole_plot", MORE, "COLUMN", "whole plots, such as bays that got a treatment as a whole"),
    ("season", ONE, "COLUMN", "seasons"),
    ("stock_plant", MORE, "COLUMN", "mother plants"),
    ("rooted_percent", ONE, "COLUMN", "percentages in place of --rooted"),
    ("wide", MORE, ("TREATMENT", "COLUMN"), "columns that hold the levels of a treatment: --wide strength 0 1000"),
    ("lost", ONE, "COLUMN", "why a tray was lost"),
    ("plan", ONE, "FILE", "plan.json or key.csv of `rootling plan layout`, whose record sheet this is"),
]
READING: list[tuple[str, str | None, Any, str]] = [
    ("sheet", ONE, "NAME", "sheet of a workbook"),
    ("header_row", ONE, "ROW", "row with the names of the columns"),
    ("fill_down", MORE, "COLUMN", "columns whose blank cells take the entry above"),
    ("leave_out", MORE, "ROW", "rows that are no trays, such as sums"),
    ("thousands", ONE, "MARK", "mark within large numbers"),
    ("decimal", ONE, "MARK", "mark before decimals"),
    ("encoding", ONE, "NAME", "how letters are written, such as cp1252"),
    ("checked", MORE, "QUESTION", "questions of the check that you looked into and found all right"),
    ("bad_rows", ONE, "WHAT", "stop, or set-aside: go on without rows that cannot be used, and list them"),
]
MEANT: list[tuple[str, str | None, Any, str]] = [
    ("strength", ONE, "COLUMN", "the column of strengths, where it has another name"),
    ("substance", ONE, "NAME", "what it is a strength of, such as IBA"),
    ("unit", ONE, "UNIT", 'such as mg/L, "ppm w/w", %% or mM'),
    ("method", ONE, "NAME", 'such as "quick dip" or talc'),
]
# What no column of counts holds: its option, and its name in ``about=``.
ABOUT = {
    "rooted_means": ("rooted", "TEXT", "what counts as rooted, such as 'one root of 1 mm or more'"),
    "set_date": ("set_date", "DAY", "day of setting, such as 2026-03-02, or the column that holds the days"),
    "reading_date": ("reading_date", "DAY", "day of reading, or the column that holds the days"),
    "randomisation": ("randomisation", "TEXT", "how treatments were dealt to trays, with the seed"),
    "losses": ("losses", "TEXT", "which trays or cuttings were lost, and why; none where none was"),
    "planned_trays": ("planned_units", "NUMBER", "how many trays were planned"),
}
WHOLE = ("header_row", "leave_out", "planned_trays")
STRENGTH = tuple(name for name, *_ in MEANT)
SETTLED = ("control", "level_order", "distinct_levels")
LOADING = tuple(name for name, *_ in (*COLUMNS, *READING)) + SETTLED


def add_roles(parser: Parser, *, needed: bool = True) -> None:
    """The table, its columns, and how it is read."""
    parser.add_argument("file", metavar="FILE", nargs=None if needed else "?", help="the table: csv, xlsx or parquet")
    columns = parser.add_argument_group(
        "Which column is what", "Columns that bear exactly such a name need not be told."
    )
    _add(columns, COLUMNS)
    columns.add_argument(
        "--control", type=pair, action="append", metavar="COLUMN=LEVEL", help="control level of a treatment"
    )
    columns.add_argument(
        "--level-order", nargs="+", action="append", metavar=("COLUMN", "LEVEL"), help="levels in an order of their own"
    )
    _add(parser.add_argument_group("What strengths mean"), MEANT)
    _add(
        parser.add_argument_group("What a reader of the write-up must know"),
        [(name, ONE, shown, said) for name, (_, shown, said) in ABOUT.items()],
    )
    reading = parser.add_argument_group("How the table is read, where it is not plain")
    _add(reading, READING)
    reading.add_argument(
        "--distinct-levels", action="store_true", default=None, help="levels such as K12 and k12 really differ"
    )


def _add(group: Any, options: Sequence[tuple[str, str | None, Any, str]]) -> None:
    for name, count, shown, told in options:
        kind = {"type": whole} if name in WHOLE else {}
        group.add_argument(f"--{name.replace('_', '-')}", nargs=count, metavar=shown, help=told, **kind)


def about(asked: argparse.Namespace) -> list[str]:
    """The columns that a question is about: they are treatments where the command lists none."""
    treatment, levels = getattr(asked, "treatment", None) or [], getattr(asked, "at", None) or []
    named = [*treatment[:1], *(column for column, _ in levels), getattr(asked, "within", None)]
    return [name for name in dict.fromkeys(named) if name]


def tried(asked: argparse.Namespace) -> list[str]:
    """The treatments as the command names them; those of a wide sheet are made by it."""
    if asked.treatments:
        return list(asked.treatments)
    made = set((asked.wide or [])[:1])
    named = [*about(asked), *([asked.strength] if asked.strength else [])]
    return [name for name in dict.fromkeys(named) if name not in made]


def loaded(asked: argparse.Namespace) -> Trial:
    """The trial of a command; what was taken from the names of columns is told."""
    given = _given(asked)
    if "plan" not in given:
        given["treatments"] = tried(asked)
    taken = guesses(asked.file, {name: value for name, value in given.items() if name != "about"})
    given |= taken
    if taken:
        said = " ".join(f"--{name.replace('_', '-')} {value}" for name, value in taken.items())
        tell(f"Taken from the names of the columns: {said}")
    if not given.get("treatments") and not {"wide", "plan"} & set(given):
        raise CommandError("what was tried is not said; write --treatment strength, or the column that holds it")
    if not given.get("treatments"):
        given.pop("treatments", None)
    with Waiting("Reading the table"):
        trial = load_trial(asked.file, **_with_strength(given, asked))
    for line in trial.design["lines"]:
        if line.startswith("columns of the table not used"):
            tell(line[0].upper() + line[1:])
    return trial


def _given(asked: argparse.Namespace) -> dict[str, Any]:
    """The options of loading that were given, as loading takes them."""
    given = {name: getattr(asked, name) for name in LOADING if getattr(asked, name, None) is not None}
    if isinstance(given.get("stuck"), str) and re.fullmatch("[0-9]{1,9}", given["stuck"]):
        given["stuck"] = int(given["stuck"])
    for name in ("tray", "block", "whole_plot", "stock_plant"):
        if len(given.get(name, ())) == 1:
            (given[name],) = given[name]
    if "wide" in given:
        given["wide"] = _listed("wide", [given["wide"]])
    if "level_order" in given:
        given["level_order"] = _listed("level_order", given["level_order"])
    if "control" in given:
        given["control"] = dict(given["control"])
    told = {own: getattr(asked, name) for name, (own, *_) in ABOUT.items() if getattr(asked, name, None) is not None}
    if told:
        given["about"] = told
    return given


def _listed(name: str, given: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    """A column with what follows it."""
    for words in given:
        if len(words) < 2:
            raise CommandError(
                f"--{name.replace('_', '-')} {words[0]} names nothing after it; see rootling check --help"
            )
    return {words[0]: list(words[1:]) for words in given}


def _with_strength(given: Mapping[str, Any], asked: argparse.Namespace) -> dict[str, Any]:
    said = {name: getattr(asked, name) for name in ("substance", "unit", "method") if getattr(asked, name) is not None}
    if not said:
        return dict(given)
    if "substance" not in said:
        first = next(iter(said))
        raise CommandError(f"--{first} {said[first]} does not say of what; add the substance, such as --substance IBA")
    return {**given, "strength": Strength(**said, column=asked.strength)}
