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
% other letters
\setlength{\parindent}{0pt}
\setlength{\parskip}{6pt}
\setlength{\tabcolsep}{4pt}
\sloppy
\renewcommand{\labelitemi}{$\bullet$}
\begin{document}"""
LETTERS_OF_OTHERS = "% other letters\n"
# The last of the letters that pdfTeX's fonts hold in a row, and further signs that they hold.
LAST_KNOWN, KNOWN = 0x17F, "\u2013\u2014\u2018\u2019\u201c\u201d\u2022\u2026\u20ac"
# How high the text of a page is, in inches.
TEXT = 267 / 25.4
# Letters by how wide the table is, and how many of them a line holds.
LETTERS = {"narrow": r"\small", "wide": r"\footnotesize", "vast": r"\scriptsize"}
LINE = {"narrow": 100, "wide": 125, "vast": 200}
# A long name with underscores may go on in the next line of its cell.
BREAKS = r"\_\allowbreak{}"
# Rows up to which a table floats, and stays in one piece; how high a figure may be, as a share of the text.
FLOATS, HIGHEST = 30, 0.8
# Signs that would be read as an option of the row or command before them.
OPENING = ("[", "*")


def latex(told: Document, target: Path) -> Made:
    """The text, and what goes into the folder."""
    folder = folder_of(target)
    beside: dict[str, bytes] = {}
    lines = [HEAD, rf"\section*{{{safe(told.title)}}}", *([safe(told.key)] if told.key else [])]
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
    lines[0] = HEAD.replace(LETTERS_OF_OTHERS, _unknown("\n".join(lines[1:])))
    return Made(signed("\n\n".join(lines) + "\n", "% {}"), folder, beside)


def _unknown(text: str) -> str:
    """Letters that pdfTeX has no form for, as marks there; other engines set what their fonts hold."""
    letters = sorted({letter for letter in text if ord(letter) > LAST_KNOWN and letter not in KNOWN})
    if not letters:
        return ""
    marks = (f"\\DeclareUnicodeCharacter{{{ord(one):04X}}}{{[U+{ord(one):04X}]}}" for one in letters)
    return "\n".join(
        ["% Letters of other scripts: set them with lualatex or xelatex.", r"\ifdefined\pdfoutput", *marks, r"\fi", ""]
    )


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
        lines += map(safe, answer.below)
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
        limit = rf"[height={HIGHEST}\textheight]" if answer.high > HIGHEST * TEXT else ""
        lines.append(
            "\\begin{figure}[!htbp]\n\\centering\n"
            f"\\setcounter{{figure}}{{{answer.number - 1}}}\n"
            f"\\includegraphics{limit}{{{folder}/{answer.file}.pdf}}\n"
            f"\\caption[]{{{safe(answer.caption)}}}\\label{{fig:{answer.number}}}\n"
            "\\end{figure}"
        )
    for shown in answer.tables:
        lines.append(_table(shown))
    lines += [safe(answer.elsewhere)] if answer.elsewhere else []
    lines += [_listed(answer.details)] if answer.details else []
    return lines


def _table(shown: Shown) -> str:
    """A table with its notes: one that floats, or one that goes on over pages, its head on each."""
    heads, rows, numeric = shown.cells("latex")
    columns = "".join(_columns(heads, rows, numeric, LINE[shown.width]))
    head = f"\\hline\n{_row(heads)}\n\\hline"
    body = "\n".join(_row([cell.replace("\\_", BREAKS) for cell in cells]) for cells in rows)
    caption = f"\\caption[]{{{safe(shown.caption)}}}\\label{{tab:{shown.number}}}"
    start = f"{LETTERS[shown.width]}\n\\renewcommand{{\\thetable}}{{{shown.number}}}"
    notes = f"\\par {safe(' '.join(shown.footnotes))}" if shown.footnotes else ""
    if shown.width != "vast" and len(rows) <= FLOATS:
        table = f"\\begin{{tabular}}{{{columns}}}\n{head}\n{body}\n\\hline\n\\end{{tabular}}"
        held = f"{start}\n\\centering\n{caption}\n\n{table}\n\n\\raggedright{notes}"
        return f"\\begin{{table}}[!htbp]\n{held}\n\\end{{table}}"
    # What does not float starts on a page of its own: behind figures a page is taken for longer than it is.
    begin, end = ("\\begin{landscape}", "\\end{landscape}") if shown.width == "vast" else ("\\clearpage", "")
    table = (
        f"\\begin{{longtable}}{{{columns}}}\n{caption}\\\\\n{head}\n\\endfirsthead\n"
        f"{head}\n\\endhead\n{body}\n\\hline\n\\end{{longtable}}"
    )
    return f"{begin}\n{{{start}\n{table}\n{notes}\\par}}\n{end}".rstrip()


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
