"""How results are shown in a terminal and in a notebook: the sentence, the table, the cautions."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from rootling._results import heads, scales
from rootling._results.kinds import faces_of
from rootling._words import clean, escaped, heading, numbers

if TYPE_CHECKING:
    from rootling._results.note import Note
    from rootling._results.result import Result

WIDTH = 100


def text(result: Result) -> str:
    """The result for a terminal."""
    header, body, numeric = rows(result)
    parts = [textwrap.fill(clean(result.sentence), WIDTH)]
    if result.details:
        told = [
            textwrap.fill(clean(line), WIDTH, initial_indent="- ", subsequent_indent="  ") for line in result.details
        ]
        parts.append("\n".join(told))
    if body and header:
        widths = [max(len(line[at]) for line in [header, *body]) for at in range(len(header))]
        lines = [
            "  ".join(
                (entry.rjust if right else entry.ljust)(width)
                for entry, width, right in zip(line, widths, numeric, strict=True)
            ).rstrip()
            for line in [header, *body]
        ]
        parts.append("\n".join(lines))
    parts += [
        textwrap.fill(clean(note.text), WIDTH, initial_indent="! ", subsequent_indent="  ") for note in result.notes
    ]
    return "\n\n".join(parts)


def html_fragment(result: Result) -> str:
    """The result for a notebook, every text escaped."""
    notes = "".join(map(_note_item, result.notes))
    said = "".join(f"<li>{escaped(clean(line))}</li>" for line in result.details)
    details = f'<ul class="rootling-details">{said}</ul>' if said else ""
    cautions = f'<ul class="rootling-notes">{notes}</ul>' if notes else ""
    return (
        '<div class="rootling-result" style="font-family:system-ui,sans-serif;max-width:60em">'
        '<p style="border-left:4px solid #4f7942;padding-left:.7em">'
        f"<strong>{escaped(clean(result.sentence))}</strong></p>{details}"
        f"{html_table(result)}{cautions}</div>"
    )


def rows(result: Result) -> tuple[list[str], list[list[str]], list[bool]]:
    """Header, entries as text, and which columns hold numbers."""
    frame = result.table()
    names = frame.columns
    faces = faces_of(result.kind)
    scale = scales.plain if faces is None else faces.scale
    body = [[_cell(scale, name, row) for name in names] for row in frame.iter_rows(named=True)]
    named = heads.common(result) | ({} if faces is None else faces.heads(result))
    return (
        [clean(named.get(name) or heading(name)) for name in names],
        body,
        [dtype.is_numeric() for dtype in frame.dtypes],
    )


def _cell(scale: scales.Scale, column: str, row: scales.Row) -> str:
    """One table entry as text."""
    value = row[column]
    if value is None:
        return ""
    if not isinstance(value, float):
        return clean(str(value))
    if column in ("p", "p_adjusted") or column.endswith("_p"):
        return numbers.p_value(value)
    return scales.writer(scale, column, row)(value)


def html_table(result: Result) -> str:
    """The table as HTML, every entry escaped."""
    header, body, numeric = rows(result)
    side = ["right" if right else "left" for right in numeric]
    head = "".join(f'<th style="text-align:{s}">{escaped(n)}</th>' for n, s in zip(header, side, strict=True))
    lines = "".join(
        "<tr>"
        + "".join(f'<td style="text-align:{s}">{escaped(e)}</td>' for e, s in zip(line, side, strict=True))
        + "</tr>"
        for line in body
    )
    return f'<table class="rootling-table"><thead><tr>{head}</tr></thead><tbody>{lines}</tbody></table>'


def _note_item(note: Note) -> str:
    """A caution as an entry of a list; that on chemicals, which many results carry, is folded behind its start."""
    text = clean(note.text)
    if note.code != "read_the_label":
        return f"<li>{escaped(text)}</li>"
    first, _, rest = text.partition(". ")
    return f"<li><details><summary>{escaped(first)}.</summary>{escaped(rest)}</details></li>"
