"""A report as a Word document: real headings, tables and figures, to read or to copy into a manuscript."""

from __future__ import annotations

import io
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from rootling._words import clean
from rootling.report.columns import shared
from rootling.report.document import Answer, Document, Section, Shown
from rootling.report.files import CATEGORY, OWNER, Made, content_of

if TYPE_CHECKING:
    from docx.document import Document as Paper

# Points of letters in a table by how wide it is; mm of an A4 page and its margin; dots of an inch of a figure.
LETTERS = {"narrow": 9, "wide": 8, "vast": 6.5}
PAGE, MARGIN = (210, 297), 15
# The highest figure of a page that holds its heading and caption too, in mm.
HIGHEST = 220
# Rows up to which a table stays on one page, and up to which one of many columns is turned.
WHOLE, FEW = 20, 3
# Letters that a line of a table holds; those that the margins of a cell and bold heads take.
LINE, BESIDE = {"narrow": 88, "wide": 112, "vast": 190}, 4


def word(told: Document) -> Made:
    """The document."""
    import docx

    paper = docx.Document()
    _page(paper, across=False)
    _properties(paper, told)
    _looks(paper)
    paper.add_heading(clean(told.title), 0)
    if told.key:
        paper.add_paragraph(told.key)
    for at, section in enumerate(told.sections, 1):
        if len(told.sections) > 1:
            paper.add_heading(f"Part {at} of {len(told.sections)}", 1)
            paper.add_paragraph(clean(section.heading))
        _section(paper, section)
    paper.add_heading("Methods", 1)
    for question, paragraph in told.methods:
        line = paper.add_paragraph()
        if len(told.methods) > 1:
            line.add_run(f"{clean(question)} ").italic = True
        line.add_run(" ".join(map(clean, paragraph.split("\n"))))
    if told.references:
        paper.add_heading("References", 1)
        for reference in told.references:
            paper.add_paragraph(clean(reference), style="List Bullet")
    paper.add_heading("Record", 1)
    for answer in told.answers:
        paper.add_paragraph(clean(answer.made), style="List Bullet")
    # What is read is put into the document as a digest, so that an edited one is known, whoever says they saved it.
    paper.core_properties.identifier = content_of(_saved(paper))
    return Made(_saved(paper))


def _saved(paper: Paper) -> bytes:
    held = io.BytesIO()
    paper.save(held)
    return held.getvalue()


def _properties(paper: Paper, told: Document) -> None:
    """What the document says of itself; by its category it is known again, by its last author as its own."""
    now = datetime.now(timezone.utc).replace(tzinfo=None)
    own = paper.core_properties
    own.title, own.category, own.comments = clean(told.title)[:255], CATEGORY, f"Made by {told.made}."
    own.author = own.last_modified_by = OWNER
    own.created = own.modified = now
    own.revision, own.language = 1, "en"


def _looks(paper: Paper) -> None:
    """Captions are read as text, not as headings."""
    from docx.shared import Pt, RGBColor

    caption: Any = paper.styles["Caption"]
    font = caption.font
    font.bold, font.size, font.color.rgb = False, Pt(9), RGBColor(0x40, 0x40, 0x40)


def _page(paper: Paper, *, across: bool) -> None:
    from docx.enum.section import WD_ORIENT
    from docx.shared import Mm

    last = paper.sections[-1]
    wide, high = reversed(PAGE) if across else PAGE
    last.orientation = WD_ORIENT.LANDSCAPE if across else WD_ORIENT.PORTRAIT
    last.page_width, last.page_height = Mm(wide), Mm(high)
    last.left_margin = last.right_margin = last.top_margin = last.bottom_margin = Mm(MARGIN)


def _section(paper: Paper, section: Section) -> None:
    for answer in section.answers:
        asked = paper.add_paragraph()
        asked.add_run(clean(answer.question)).italic = True
        asked.paragraph_format.keep_with_next = True
        lines = [paper.add_paragraph(), *(paper.add_paragraph(clean(line)) for line in answer.below)]
        lines[0].add_run(clean(answer.sentence)).bold = True
        # An answer and what stands below it are not torn apart.
        for line in lines[:-1]:
            line.paragraph_format.keep_with_next = True
    for answer in section.answers:
        _answer(paper, answer)
    for heading, told in section.facts:
        paper.add_heading(heading, 1)
        _listed(paper, told)
    if section.cautions:
        paper.add_heading("Cautions", 1)
        for group in section.cautions:
            if group["of"]:
                paper.add_paragraph().add_run(clean(group["of"])).italic = True
            _listed(paper, group["texts"])


def _listed(paper: Paper, texts: Any) -> None:
    for text in texts:
        paper.add_paragraph(clean(text), style="List Bullet")


def _answer(paper: Paper, answer: Answer) -> None:
    from docx.shared import Mm

    paper.add_heading(clean(answer.question), 1)
    drawn = answer.drawn("png")
    if drawn is not None:
        # As large as it was drawn: the file says how many dots of it are an inch.
        picture = paper.add_picture(io.BytesIO(drawn))
        if picture.height > Mm(HIGHEST):
            picture.width, picture.height = int(picture.width * Mm(HIGHEST) / picture.height), Mm(HIGHEST)
        picture._inline.docPr.set("descr", clean(answer.alternative))
        paper.paragraphs[-1].paragraph_format.keep_with_next = True
        paper.add_paragraph(f"Figure {answer.number}. {clean(answer.caption)}", style="Caption")
    for shown in answer.tables:
        _table(paper, shown)
    if answer.elsewhere:
        paper.add_paragraph(clean(answer.elsewhere))
    _listed(paper, answer.details)


def _table(paper: Paper, shown: Shown) -> None:
    """The table with its head on every page; one that is very wide on paper that lies across."""
    from docx.shared import Pt

    cells = shown.cells()
    turned = shown.width == "vast" and len(cells[1]) <= FEW
    across, size = shown.width == "vast" and not turned, "narrow" if turned else shown.width
    if across:
        paper.add_section()
        _page(paper, across=True)
    title = paper.add_paragraph(f"Table {shown.number}. {clean(shown.caption)}", style="Caption")
    title.paragraph_format.keep_with_next = True
    heads, rows, numeric = _turned(*cells) if turned else cells
    table = paper.add_table(rows=1 + len(rows), cols=len(heads), style="Table Grid")
    lines, wide = list(table.rows), _widths((heads, rows, numeric), size)
    # One program goes by the columns, another by the cells.
    for column, width in zip(table.columns, wide, strict=True):
        column.width = width
    for line, texts in zip(lines, [heads, *rows], strict=True):
        _mark(line, "w:cantSplit")
        for cell, text, number, width in zip(line.cells, texts, numeric, wide, strict=True):
            cell.width = width
            _fill(cell, text, LETTERS[size], number=number, head=line is lines[0])
            # A short table stays in one piece, with what is said below it.
            cell.paragraphs[0].paragraph_format.keep_with_next = len(rows) <= WHOLE
    _mark(lines[0], "w:tblHeader")
    below = paper.add_paragraph()
    below.paragraph_format.space_before = Pt(3)
    below.add_run(" ".join(map(clean, shown.footnotes))).font.size = Pt(8.5)
    if across:
        paper.add_section()
        _page(paper, across=False)


def _turned(
    heads: list[str], rows: list[list[str]], numeric: list[bool]
) -> tuple[list[str], list[list[str]], list[bool]]:
    """A row or two of many columns, their entries below each other: they need no page that lies across."""
    lines = [[head, *(row[at] for row in rows)] for at, head in enumerate(heads)]
    return lines[0], lines[1:], [False, *[any(numeric)] * len(rows)]


def _widths(cells: tuple[list[str], list[list[str]], list[bool]], size: str) -> list[int]:
    """How wide each column is: no wider than its entries need, all together no wider than the page."""
    from docx.shared import Mm

    line, page = LINE[size], PAGE[size == "vast"] - 2 * MARGIN
    fits, letters = shared(cells, line)
    wide = [one + BESIDE for one in letters]
    whole = max(sum(wide), 0.9 * line if fits else 0)
    return [Mm(page * one / whole) for one in wide]


def _mark(line: Any, name: str) -> None:
    from docx.oxml import OxmlElement

    line._tr.get_or_add_trPr().append(OxmlElement(name))


def _fill(cell: Any, text: str, size: float, *, number: bool, head: bool) -> None:
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.shared import Pt

    paragraph = cell.paragraphs[0]
    paragraph.paragraph_format.space_after = Pt(0)
    if number:
        paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT
    run = paragraph.add_run(clean(text))
    run.font.size, run.bold = Pt(size), head
