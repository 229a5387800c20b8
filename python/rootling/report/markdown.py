"""A report as Markdown, with figures and records in a folder beside it."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from rootling._results import display
from rootling._words import clean
from rootling.report.document import Answer, Document, Section, Shown
from rootling.report.files import Made, folder_of, signed


def markdown(told: Document, target: Path) -> Made:
    """The text, and what goes into the folder."""
    folder = folder_of(target)
    beside: dict[str, bytes] = {}
    lines = [f"# {safe(told.title)}", *([safe(told.key)] if told.key else [])]
    for at, section in enumerate(told.sections, 1):
        if len(told.sections) > 1:
            lines += [f"## Part {at} of {len(told.sections)}", safe(section.heading)]
        lines += _section(section, folder, beside)
    lines.append("## Methods")
    for question, paragraph in told.methods:
        lines.append(f"*{safe(question)}* {safe(paragraph)}" if len(told.methods) > 1 else safe(paragraph))
    if told.references:
        lines += ["## References", _listed(told.references)]
    lines += ["## Record", "Everything needed to redo these answers: options, version, seed and data fingerprint."]
    for answer, record in zip(told.answers, told.records, strict=True):
        beside[f"{answer.record_file}.json"] = record.encode("utf-8", "backslashreplace")
        lines.append(f"- [{safe(answer.question)}](<{quote(folder)}/{answer.record_file}.json>)")
    return Made(signed("\n\n".join(lines) + "\n", "<!-- {} -->"), folder, beside)


def safe(text: str) -> str:
    """A text in which nothing is taken for markup, at the beginning of a line neither."""
    shown = " ".join(display.safe(line, "markdown") for line in text.split("\n"))
    return f"\\{shown}" if shown[:1] in ("#", "+", "-", "=") else shown


def _listed(texts: list[str] | tuple[str, ...]) -> str:
    return "\n".join(f"- {safe(text)}" for text in texts)


def _section(section: Section, folder: str, beside: dict[str, bytes]) -> list[str]:
    lines = []
    for answer in section.answers:
        lines += [f"*{safe(answer.question)}*", f"**{safe(answer.sentence)}**"]
        lines += map(safe, answer.below)
    for answer in section.answers:
        lines += _answer(answer, folder, beside)
    for heading, told in section.facts:
        lines += [f"## {heading}", _listed(told)]
    if section.cautions:
        lines.append("## Cautions")
        for group in section.cautions:
            lines += [f"*{safe(group['of'])}*"] if group["of"] else []
            lines.append(_listed(group["texts"]))
    return lines


def _answer(answer: Answer, folder: str, beside: dict[str, bytes]) -> list[str]:
    lines = [f"## {safe(answer.question)}"]
    drawn = answer.drawn("png")
    if drawn is not None:
        beside[f"{answer.file}.png"] = drawn
        alt = clean(answer.alternative).replace("[", "(").replace("]", ")").replace("\\", "")
        lines.append(f"![{safe(alt)}](<{quote(folder)}/{answer.file}.png>)")
        lines.append(f"*Figure {answer.number}.* {safe(answer.caption)}")
    for shown in answer.tables:
        lines += [f"*Table {shown.number}.* {safe(shown.caption)}", _table(shown)]
        lines += [safe(" ".join(shown.footnotes))] if shown.footnotes else []
    lines += [safe(answer.elsewhere)] if answer.elsewhere else []
    lines += [_listed(answer.details)] if answer.details else []
    return lines


def _table(shown: Shown) -> str:
    heads, rows, numeric = shown.cells("markdown")
    sides = ["--:" if number else ":--" for number in numeric]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (heads, sides, *rows))
