"""What is printed: answers to the output, remarks beside it, both at the width of the terminal."""

from __future__ import annotations

import io
import json
import shutil
import sys
import textwrap
from collections.abc import Iterable
from typing import TextIO

from rootling._again import Verified
from rootling._results import Note, Result, display, write_record
from rootling._words import clean, clean_lines
from rootling.command.spoken import spoken
from rootling.trial import Trial

__all__ = [
    "ASIDE",
    "LOADING",
    "prepare",
    "say",
    "say_lines",
    "say_notes",
    "say_record",
    "say_result",
    "say_verdict",
    "tell",
    "width_of",
]

WIDEST, NARROWEST = 100, 24
# Differences of a record that are told one by one.
MOST = 12
# How a row begins that does not enter.
ASIDE = "set aside: "
# Options of loading that cautions name.
LOADING = (
    *("tray", "block", "whole_plot", "season", "stock_plant", "dead", "sheet", "plan", "treatments", "stuck", "rooted"),
    *(
        "header_row",
        "fill_down",
        "leave_out",
        "thousands",
        "decimal",
        "encoding",
        "checked",
        "bad_rows",
        "wide",
        "lost",
    ),
    *("rooted_percent", "control", "level_order", "distinct_levels"),
)


def prepare() -> None:
    """Letters that the output cannot show become their code, rather than an error; a closed output takes nothing."""
    if sys.stdout is None:
        sys.stdout = io.StringIO()
    if sys.stderr is None:
        sys.stderr = io.StringIO()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def width_of(stream: TextIO) -> int:
    """Letters of a line: what the terminal holds, up to a hundred."""
    if not stream.isatty():
        return WIDEST
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size().columns))


def tell(text: str) -> None:
    """A remark beside the output, wrapped line by line."""
    width = width_of(sys.stderr)
    for line in clean_lines(text).split("\n"):
        # A line to copy stays one.
        whole = len(line) <= width or not sys.stderr.isatty() or line.lstrip().startswith("rootling ")
        print(line if whole else _wrapped(line, width), file=sys.stderr)


def _wrapped(line: str, width: int) -> str:
    margin = " " * (len(line) - len(line.lstrip()))
    more = f"{margin}  "
    return textwrap.fill(line.strip(), width, initial_indent=margin, subsequent_indent=more, break_on_hyphens=False)


def say(text: str) -> None:
    """A paragraph of the output."""
    print(textwrap.fill(clean(text), width_of(sys.stdout)))


def say_lines(lines: Iterable[str], mark: str = "- ") -> None:
    """Facts, one a line."""
    for line in lines:
        more = " " * len(mark)
        width = width_of(sys.stdout)
        print(textwrap.fill(clean(line), width, initial_indent=mark, subsequent_indent=more, break_on_hyphens=False))


def say_result(result: Result, trial: Trial | None = None) -> None:
    """The sentence first, then the details, the table and the cautions."""
    say(result.sentence)
    if result.details:
        print()
        say_lines(result.details)
    table = _table(result)
    if table:
        print(f"\n{table}")
    notes = [*result.notes, *(() if trial is None else trial.notes)]
    aside = () if trial is None else trial.set_aside
    if notes or aside:
        print()
        say_notes(notes)
        say_lines(map(str, aside), ASIDE)


def say_notes(notes: Iterable[Note]) -> None:
    """Cautions, each once; an option that one names is shown as it is written here."""
    texts = (spoken(note.text, LOADING).replace("Look at .set_aside", "Look at the rows below") for note in notes)
    say_lines(dict.fromkeys(texts), "! ")


def _table(result: Result) -> str:
    """The table in columns or, where the terminal is too narrow for it, row by row."""
    table = display.laid_out(result, "terminal").rstrip("\n")
    if not sys.stdout.isatty():
        return table
    if all(len(line) <= shutil.get_terminal_size().columns for line in table.split("\n")):
        return table
    width = width_of(sys.stdout)
    heads, rows, _ = display.rows(result)
    return "\n\n".join(
        "\n".join(
            textwrap.fill(f"{head}: {entry}", width, subsequent_indent="  ")
            for head, entry in zip(heads, row, strict=True)
            if entry.strip()
        )
        for row in rows
    )


def say_record(record: str) -> None:
    """A record as JSON, in letters that the output has."""
    ascii_only = (sys.stdout.encoding or "ascii").lower().replace("-", "") != "utf8"
    print(json.dumps(json.loads(record), indent=1, ensure_ascii=True) if ascii_only else record)


def say_verdict(found: Verified, *, as_json: bool) -> None:
    """What asking a record again found, with the first differences."""
    if as_json:
        say_record(write_record(found.to_dict(), 1))
        return
    say(found.sentence)
    if found.details or found.differences:
        print()
        say_lines([*found.details, *map(str, found.differences[:MOST])])
    if len(found.differences) > MOST:
        say(f"and {len(found.differences) - MOST} more; --json gives all")
