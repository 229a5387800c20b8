"""A report as LaTeX: an article of plain packages, with figures and records in a folder beside it."""

from __future__ import annotations

import re
from pathlib import Path

from rootling._results import display
from rootling.report.columns import GAP, shared
from rootling.report.document import Answer, Document, Section, Shown
from rootling.report.files import Made, folder_of, signed

HEAD = r"""\documentclass[10pt,a4paper]{article}
\usepackage[margin=15mm]{geometry}
\usepackage{graphicx}
\usepackage{array}
\usepackage{longtable}
\usepackage{lscape}
\IfFileExists{lmodern.sty}{\usepackage[T1]{fontenc}\usepackage{lmodern}}{}
\setlength{\parindent}{0pt}
\setlength{\parskip}{6pt}
\setlength{\tabcolsep}{4pt}
\sloppy
\renewcommand{\labelitemi}{$\bullet$}
\begin{document}"""
# Letters by how wide the table is, and how many of them a line holds.
LETTERS = {"narrow": r"\small", "wide": r"\footnotesize", "vast": r"\scriptsize"}
LINE = {"narrow": 100, "wide": 125, "vast": 200}
# Signs that would be read as an option of the row or command before them.
OPENING = ("[", "*")


def latex(told: Document, target: Path) -> Made:
    """The text, and what goes into the folder."""
    folder = folder_of(target)
    beside: dict[str, bytes] = {}
    lines = [HEAD, rf"\section*{{{safe(told.title)}}}"]
    for at, section in enumerate(told.sections, 1):
        if len(told.sections) > 1:
            lines += [rf"\section*{{Part {at} of {len(told.sections)}}}", safe(section.heading)]
        lines += _section(section, folder, beside)
    lines.append(r"\subsection*{Methods}")
    for question, paragraph in told.methods:
        lines.append(rf"\emph{{{safe(question)}}} {safe(paragraph)}" if len(told.methods) > 1 else safe(paragraph))
    if told.references:
        lines += [r"\subsection*{References}", _listed(told.references)]
    lines.append(r"\subsection*{Record}")
    lines.append("Everything needed to redo these answers: options, version, seed and data fingerprint, in the folder")
    lines.append(rf"\texttt{{{safe(folder)}}}.")
    for answer, record in zip(told.answers, told.records, strict=True):
        beside[f"{answer.record_file}_tex.json"] = record.encode("utf-8", "backslashreplace")
    lines.append(r"\end{document}")
    return Made(signed("\n\n".join(lines) + "\n", "% {}"), folder, beside)


def safe(text: str) -> str:
    """A text in which nothing is a command."""
    shown = " ".join(display.safe(line, "latex") for line in text.split("\n"))
    return f"{{}}{shown}" if shown.startswith(OPENING) else shown


def _listed(texts: list[str] | tuple[str, ...]) -> str:
    items = "\n".join(rf"\item {safe(text)}" for text in texts)
    return f"\\begin{{itemize}}\n{items}\n\\end{{itemize}}"


def _section(section: Section, folder: str, beside: dict[str, bytes]) -> list[str]:
    lines = []
    for answer in section.answers:
        lines += [rf"\emph{{{safe(answer.question)}}}", rf"\textbf{{{safe(answer.sentence)}}}"]
        lines += [safe(answer.next)] if answer.next else []
    for answer in section.answers:
        lines += _answer(answer, folder, beside)
    for heading, told in section.facts:
        lines += [rf"\subsection*{{{heading}}}", _listed(told)]
    if section.cautions:
        lines.append(r"\subsection*{Cautions}")
        for group in section.cautions:
            lines += [rf"\emph{{{safe(group['of'])}}}"] if group["of"] else []
            lines.append(_listed(group["texts"]))
    return lines


def _answer(answer: Answer, folder: str, beside: dict[str, bytes]) -> list[str]:
    lines = [rf"\subsection*{{{safe(answer.question)}}}"]
    drawn = answer.drawn("pdf")
    if drawn is not None:
        beside[f"{answer.file}.pdf"] = drawn
        lines.append(
            "\\begin{figure}[!htbp]\n\\centering\n"
            f"\\setcounter{{figure}}{{{answer.number - 1}}}\n"
            f"\\includegraphics{{{folder}/{answer.file}.pdf}}\n"
            f"\\caption[]{{{safe(answer.caption)}}}\\label{{fig:{answer.number}}}\n"
            "\\end{figure}"
        )
    for shown in answer.tables:
        lines.append(_table(shown))
    lines += [safe(answer.elsewhere)] if answer.elsewhere else []
    lines += [_listed(answer.details)] if answer.details else []
    return lines


def _table(shown: Shown) -> str:
    """A table that goes on over pages, its head on each; words in columns that break into lines; below it the notes."""
    heads, rows, numeric = shown.cells("latex")
    columns = "".join(_columns(heads, rows, numeric, LINE[shown.width]))
    head = f"{_row(heads)}\n\\hline"
    body = "\n".join(map(_row, rows))
    # A table that goes on over pages cannot float; it has caption and label all the same.
    caption = f"\\caption[]{{{safe(shown.caption)}}}\\label{{tab:{shown.number}}}\\\\"
    table = (
        f"{{{LETTERS[shown.width]}\n\\renewcommand{{\\thetable}}{{{shown.number}}}\n"
        f"\\begin{{longtable}}{{{columns}}}\n{caption}\n\\hline\n{head}\n\\endfirsthead\n"
        f"\\hline\n{head}\n\\endhead\n{body}\n\\hline\n\\end{{longtable}}"
    )
    below = f"\n\n{safe(' '.join(shown.footnotes))}\\par" if shown.footnotes else ""
    table = f"{table}{below}}}"
    return f"\\begin{{landscape}}\n{table}\n\\end{{landscape}}" if shown.width == "vast" else table


def _row(cells: list[str]) -> str:
    return " & ".join(f"{{}}{cell}" if cell.startswith(OPENING) else cell for cell in cells) + r" \\"


def _columns(heads: list[str], rows: list[list[str]], numeric: list[bool], line: int) -> list[str]:
    """Each column as wide as its longest entry, but for words where all together are too wide."""
    fits, wide = shared((heads, rows, numeric), line, _letters)
    if fits:
        return ["r" if number else "l" for number in numeric]
    whole = sum(wide) + GAP * len(wide)
    sides = (r"\raggedleft" if number else r"\raggedright" for number in numeric)
    return [
        rf">{{{side}\arraybackslash}}p{{\dimexpr {(letters + GAP) / whole:.4f}\linewidth-2\tabcolsep}}"
        for side, letters in zip(sides, wide, strict=True)
    ]


def _letters(cell: str) -> int:
    """Letters of a cell as they are read, commands taken out."""
    return len(re.sub(r"\\text[a-z]+\{\}|\\(.)|\$", r"\1", cell))
