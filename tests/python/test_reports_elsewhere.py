"""Reports as other programs read them: an office program, Markdown, LaTeX; hostile names stay names."""

from __future__ import annotations

import re
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import docx
import pypdfium2
import pytest
import reports_made
from markdown_it import MarkdownIt
from markdown_it.token import Token

MARGIN, POINTS, SLACK = 15 / 25.4, 72.0, 4.0
OFFICE = ("two_strengths", "deaths", "plum_cuttings", "hostile")
LINKS = ("link_open", "image")
# How LaTeX writes these signs; a name in which all of them are turned back is as it was.
SIGNS = {r"\textless{}": "<", r"\textgreater{}": ">", r"\textbar{}": "|", "''": '"'}


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("elsewhere")


@pytest.fixture(scope="module")
def printed(place: Path) -> dict[str, pypdfium2.PdfDocument]:
    """Documents as an office program prints them."""
    office = reports_made.program(*reports_made.OFFICES)
    if office is None:
        pytest.skip(
            "no LibreOffice is on this machine, so no document was opened in it; on Debian: "
            "apt-get install libreoffice-writer-nogui"
        )
    files = [str(reports_made.written(name, ".docx", place)) for name in OFFICE]
    own = f"-env:UserInstallation={(place / 'settings').as_uri()}"
    command = [office, own, "--headless", "--convert-to", "pdf", "--outdir", str(place), *files]
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return {name: pypdfium2.PdfDocument((place / f"{name}.pdf").read_bytes()) for name in OFFICE}


def _bare(text: str) -> str:
    """The letters of a text, whatever line they stand in; a hyphen at the end of one is none."""
    return re.sub(r"[\s\ufffe\u00ad]+", "", text)


@pytest.mark.parametrize("name", OFFICE)
def test_a_document_is_whole_in_an_office_program(
    name: str, printed: dict[str, pypdfium2.PdfDocument], place: Path
) -> None:
    pages = list(printed[name])
    told = _bare("".join(page.get_textpage().get_text_bounded() for page in pages))
    for answer in reports_made.asked(name):
        sentence = getattr(answer, "sentence", "")
        # Letters from right to left are read in the order in which they stand.
        assert not sentence.isascii() or _bare(sentence) in told
    paper = docx.Document(str(reports_made.written(name, ".docx", place)))
    entries = [cell.text for table in paper.tables for row in table.rows for cell in row.cells]
    assert len(entries) > 20
    assert [one for one in entries if one.isascii() and _bare(one)[:6] not in told] == []
    for page in pages:
        width, height = page.get_size()
        text = page.get_textpage()
        edge = MARGIN * POINTS - SLACK
        boxes = [text.get_rect(at) for at in range(text.count_rects())]
        out = [box for box in boxes if box[0] < edge or box[2] > width - edge or box[1] < 0 or box[3] > height]
        assert [text.get_text_bounded(*box) for box in out] == []


def names() -> list[str]:
    return [*reports_made.HOSTILE, "stock <i>{{x}}</i> $y_1$"]


class Read(HTMLParser):
    """What is read on a page, and by which marks."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes.update(name for name, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_hostile_names_are_text_on_a_page(place: Path) -> None:
    read = Read()
    read.feed(reports_made.written("hostile", ".html", place).read_text(encoding="utf-8"))
    assert not {"script", "i", "b", "iframe", "object", "form"} & read.tags
    assert not [name for name in read.attributes if name.startswith("on")]
    assert [name for name in names() if name not in "".join(read.text)] == []
    assert "49" not in "".join(read.text).split("K12")[0]


def test_hostile_names_are_text_in_a_document(place: Path) -> None:
    paper = docx.Document(str(reports_made.written("hostile", ".docx", place)))
    told = [line.text for line in paper.paragraphs]
    told += [cell.text for table in paper.tables for row in table.rows for cell in row.cells]
    assert [name for name in names() if name not in "\n".join(told)] == []
    # No field, macro, link or foreign object came of a name.
    xml = paper.element.xml
    assert not re.search(r"<w:(fldChar|instrText|fldSimple|object|hyperlink)\b", xml)
    assert not [one for one in paper.part.rels.values() if one.is_external]


def _flat(tokens: list[Token]) -> list[Token]:
    return [part for one in tokens for part in (one, *_flat(one.children or []))]


def test_hostile_names_are_text_in_markdown(place: Path) -> None:
    told = reports_made.written("hostile", ".md", place).read_text(encoding="utf-8")
    tokens = _flat(MarkdownIt("commonmark").enable("table").parse(told))
    # The first line is ours, by which the report is known again.
    marks = [one for one in tokens if one.type in ("html_block", "html_inline")]
    assert [one.content.startswith("<!-- Report of rootling") for one in marks] == [True]
    links = [one.attrs["href" if one.type == "link_open" else "src"] for one in tokens if one.type in LINKS]
    assert all(re.fullmatch(r"hostile_figures/(figure|record)_\d_\w+\.(png|json)", str(one)) for one in links)
    text = "\n".join(one.content for one in tokens if one.type in ("text", "text_special", "code_inline"))
    read = "".join(text.split("\n"))
    assert [name for name in names() if name not in read] == []
    assert len([one for one in tokens if one.type == "table_open"]) == 3


def test_hostile_names_are_text_in_latex(place: Path) -> None:
    told = reports_made.written("hostile", ".tex", place).read_text(encoding="utf-8")
    body = told.split(r"\begin{document}")[1]
    assert not re.search(r"(?<!\\)[%#$]", body)
    read = body.replace(r"\allowbreak{}", "")
    for written, sign in SIGNS.items():
        read = read.replace(written, sign)
    read = re.sub(r"\\([#$%&_{}])", r"\1", read).replace("{}=", "=")
    assert [name for name in names() if name not in read] == []
