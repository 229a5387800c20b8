"""How results are shown in a terminal and in a notebook: the sentence, the table, the cautions."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._pages import in_notebook
from rootling._words import clean

if TYPE_CHECKING:
    from rootling._results.note import Note
    from rootling._results.result import Result

WIDTH = 100
# How a detail begins that says how sure the decision is; in a notebook and in a report it stands right below it.
HOW_SURE = "How sure: "


def text(result: Result) -> str:
    """The result for a terminal."""
    parts = [textwrap.fill(clean(result.sentence), WIDTH)]
    if result.details:
        told = [
            textwrap.fill(clean(line), WIDTH, initial_indent="- ", subsequent_indent="  ") for line in result.details
        ]
        parts.append("\n".join(told))
    table = laid_out(result, "terminal")
    if table:
        parts.append(table.removesuffix("\n"))
    parts += [
        textwrap.fill(clean(note.text), WIDTH, initial_indent="! ", subsequent_indent="  ") for note in result.notes
    ]
    return "\n\n".join(parts)


def html_fragment(result: Result) -> str:
    """The result for a notebook, every text escaped."""
    header, body, numeric = rows(result)
    return in_notebook(
        "result",
        sentence=result.sentence,
        sure=how_sure(result),
        details=[line for line in result.details if not line.startswith(HOW_SURE)],
        header=header,
        body=body,
        side=[f"text-align:{'right' if right else 'left'}" for right in numeric],
        notes=[_start_and_rest(note) for note in result.notes],
    )


def how_sure(result: Result) -> str:
    """How sure the decision is, in the words of its details; empty where they do not say it in one line."""
    return next((line for line in result.details if line.startswith(HOW_SURE)), "")


def rows(result: Result, where: str = "terminal") -> tuple[list[str], list[list[str]], list[bool]]:
    """Header, entries as text, made safe for where they stand, and which columns hold numbers."""
    shown = _core.report.cells(table_of(result), where)
    return shown["heads"], shown["rows"], shown["numeric"]


def safe(text: str, where: str) -> str:
    """A text for ``"markdown"`` or ``"latex"``: nothing in it is taken for markup."""
    table = {"columns": [{"name": "text", "kind": "text", "values": [clean(text)]}]}
    return str(_core.report.cells(table, where)["rows"][0][0])


def laid_out(result: Result, where: str) -> str:
    """The table for ``"terminal"``, ``"markdown"``, ``"latex"`` or ``"html"``."""
    return _core.report.laid_out(table_of(result), where)


def table_of(result: Result) -> dict[str, Any]:
    """The table of the record, with marks for signs that break a line or hide."""
    return {"columns": [_column(column) for column in result._record["table"]["columns"]]}


def _column(column: dict[str, Any]) -> dict[str, Any]:
    texts = {name: clean(column[name]) for name in ("name", "head") if column.get(name) is not None}
    if column["kind"] == "text":
        return {**column, **texts, "values": [None if one is None else clean(one) for one in column["values"]]}
    return {**column, **texts}


def _start_and_rest(note: Note) -> tuple[str, str | None]:
    """A caution; that on chemicals, which many results carry, in two, so that it can be folded behind its start."""
    text = clean(note.text)
    if note.code != "read_the_label":
        return text, None
    first, _, rest = text.partition(". ")
    return f"{first}.", rest
