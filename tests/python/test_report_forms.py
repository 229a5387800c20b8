"""A report as a Word document, Markdown and LaTeX: the same words, real tables and figures, whole or not at all."""

from __future__ import annotations

import io
import os
import re
import zipfile
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import docx
import every_kind
import pytest
import rootling as rl
from PIL import Image
from rootling._figures import counted
from rootling._results import Result
from rootling.exceptions import ReportError
from rootling.report import files
from rootling.report.document import document

ENDINGS = [".html", ".docx", ".md", ".tex"]
SETS = {
    "trial": ["comparison", "letters, within", "strength_curve", "checks"],
    "week": ["baseline", "signals", "batch_chart", "places_watched"],
    "plan": ["layout", "looks", "dealt_anew"],
    "steps": ["step_yields", "yield_change", "early_sign"],
}
# How the first figure shows, signs of comparison left out.
FIGURES = {".html": "figurepicture", ".docx": "Figure 1.", ".md": "![", ".tex": "includegraphics"}
TITLES = {
    "trial": "Rooting trial: strength of IBA, dark days and rootstock",
    "week": "Crop under watch: by room and rootstock, until 2025-12-01",
    "plan": "Planned trial: 12 trays, strength at 2 levels",
    "steps": "From grafted to rooted: a chain of 2 steps",
}


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("reports")


@cache
def written(place: Path, name: str, ending: str) -> Path:
    """A report that is only read; each in a folder of its own."""
    folder = place / f"{name}{ending[1:]}"
    folder.mkdir()
    return rl.report.write(results(name), folder / f"spring{ending}")


def results(name: str) -> list[Any]:
    return [every_kind.made(one) for one in SETS[name]]


@pytest.fixture(scope="module")
def odd() -> Result:
    """Names that are markup in one language or another."""
    names = ["K_12 <b> & $5", "[x] 100 % #1 {y}", "*a* | `b` \\ ~^"]
    frame = {"stock": [name for name in names for _ in range(4)], "rooted": [3, 4, 5, 6] * 3, "stuck": [20] * 12}
    return rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="stock", tray="each-row").take_rates("stock")


def text_of(path: Path) -> str:
    """All that is read in a report, in its order, without line breaks."""
    if path.suffix != ".docx":
        said = path.read_text(encoding="utf-8").split("<h2>Record</h2>")[0]
        return re.sub(r"\s+", " ", said.replace("\\", ""))
    return " ".join(line.text for line in docx.Document(str(path)).paragraphs)


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("name", SETS)
def test_decisions_come_first(name: str, ending: str, place: Path) -> None:
    asked = results(name)
    said = text_of(written(place, name, ending))
    assert TITLES[name] in said
    plain = re.sub(r"[<>]|textless\{\}|&lt;", "", said)
    first = plain.index(FIGURES[ending])
    # Answers of other counts stand in a part of their own.
    alike = asked[:1] if "Part 1 of" in said else asked
    assert all(plain.index(re.sub("[<>]", "", one.sentence)) < first for one in alike)
    if name == "week":
        signals, usual = (every_kind.made(one).sentence for one in ("signals", "baseline"))
        assert said.index(signals) < said.index(usual)


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_caution_on_chemicals_stands_once(ending: str, place: Path) -> None:
    said = text_of(written(place, "trial", ending))
    assert said.count("Growth regulators are regulated") == 1


def test_a_document_has_real_tables_and_figures(place: Path) -> None:
    asked = results("trial")
    path = written(place, "trial", ".docx")
    paper = docx.Document(str(path))
    tables = [one for answer in document(asked, None).answers for one in answer.tables]
    cells = [[heads, *rows] for heads, rows, _ in (one.cells() for one in tables)]
    # A row or two of many columns are turned, their entries below each other.
    turned = [one.width == "vast" and len(lines) <= 4 for one, lines in zip(tables, cells, strict=True)]
    assert any(turned)
    wanted = [[*zip(*lines, strict=True)] if one else lines for one, lines in zip(turned, cells, strict=True)]
    assert [[cell.text for cell in table.rows[0].cells] for table in paper.tables] == [list(one[0]) for one in wanted]
    assert [len(table.rows) for table in paper.tables] == [len(one) for one in wanted]
    assert paper.tables[0].rows[1].cells[0].text == "take rate at 0 mg/L"
    pictures = paper.inline_shapes
    widths = [round(picture.width.mm) for picture in pictures]  # type: ignore[union-attr]
    assert len(widths) == len(asked)
    assert set(widths) <= {85, 180}
    alt = [picture._inline.docPr.get("descr") for picture in pictures]
    assert alt == [f"Figure: {one.sentence} {counted(one)}".strip() for one in asked]
    styles = [line.style.name for line in paper.paragraphs if line.style is not None]
    assert styles[0] == "Title"
    assert styles.count("Heading 1") >= len(asked) + 4
    captions = [line.text for line in paper.paragraphs if line.style is not None and line.style.name == "Caption"]
    assert [one for one in captions if one.startswith("Figure")] == [
        f"Figure {at}. {one.caption}" for at, one in enumerate(asked, 1)
    ]
    # Heads are repeated on every page, rows are not cut.
    xml = paper.tables[0]._tbl.xml
    assert xml.count("<w:tblHeader/>") == 1
    assert xml.count("<w:cantSplit/>") == len(paper.tables[0].rows)
    assert paper.core_properties.title == TITLES["trial"]


@pytest.mark.parametrize(("ending", "form"), [(".md", "png"), (".tex", "pdf")])
def test_figures_and_records_stand_beside_a_text(ending: str, form: str, place: Path) -> None:
    path = written(place, "trial", ending)
    folder = path.parent / "spring_figures"
    assert sorted(one.name for one in path.parent.iterdir()) == sorted([path.name, folder.name])
    names = sorted(one.name for one in folder.iterdir())
    assert len([one for one in names if one.endswith(form)]) == len(SETS["trial"])
    said = path.read_text(encoding="utf-8")
    for name in names:
        if name.endswith(form):
            assert f"spring_figures/{name}" in said
        else:
            record = Result.from_json((folder / name).read_text(encoding="utf-8"))
            assert record in results("trial")
    if form == "png":
        with Image.open(folder / names[0]) as image:
            assert round(image.width / 300 * 25.4) in (85, 180)
    else:
        data = (folder / names[0]).read_bytes()
        assert data.startswith(b"%PDF")
        assert b"/Type3" not in data


def test_the_other_text_keeps_its_figures(tmp_path: Path) -> None:
    rl.report.write(results("steps"), tmp_path / "r.md")
    (tmp_path / "r_figures" / "mine.txt").write_text("kept", encoding="utf-8")
    before = {one.name for one in (tmp_path / "r_figures").iterdir()}
    rl.report.write(results("steps"), tmp_path / "r.tex")
    rl.report.write(results("steps")[:1], tmp_path / "r.tex")
    after = {one.name for one in (tmp_path / "r_figures").iterdir()}
    assert before <= after
    assert [one for one in after if one.endswith(".pdf")] == ["figure_1_step_yields.pdf"]


def test_texts_of_one_name_keep_records_of_their_own(tmp_path: Path) -> None:
    """Another question under the same name leaves what the other text points to as it was."""
    first, second = every_kind.made("take_rates"), every_kind.made("take_rates, many")
    rl.report.write(first, tmp_path / "r.md")
    folder = tmp_path / "r_figures"
    before = _all(folder)
    rl.report.write([second, every_kind.made("trend")], tmp_path / "r.tex")
    assert _all(folder).items() >= before.items()
    told = {name: Result.from_json(data.decode()) for name, data in _all(folder).items() if name.endswith(".json")}
    assert told["record_1_take_rates.json"] == first
    assert told["record_2_take_rates_tex.json"] == second
    # Each is replaced by its own next one alone, and what it no longer needs goes.
    rl.report.write(second, tmp_path / "r.tex")
    assert sorted(_all(folder)) == sorted([*before, "figure_1_take_rates.pdf", "record_1_take_rates_tex.json"])
    rl.report.write(every_kind.made("trend"), tmp_path / "r.md")
    assert "record_1_take_rates.json" not in _all(folder)
    assert "record_1_take_rates_tex.json" in _all(folder)
    # A folder whose Markdown is gone is still nobody else's.
    (tmp_path / "r.md").unlink()
    with pytest.raises(ReportError, match="with figures of another report"):
        rl.report.write(first, tmp_path / "r.md")


def test_names_are_no_markup(odd: Result, tmp_path: Path) -> None:
    title = "[A] *b* <i> $x$ 5 % & \\ {c} #"
    tex = rl.report.write(odd, tmp_path / "r.tex", title=title).read_text(encoding="utf-8")
    body = tex.split(r"\begin{document}")[1]
    depth = 0
    for mark in re.findall(r"(?<!\\)[{}]", re.sub(r"\\\\", "", body)):
        depth += 1 if mark == "{" else -1
        assert depth >= 0
    assert depth == 0
    assert not re.search(r"(?<!\\)[%#]", body)
    begun, ended = (re.findall(rf"\\{word}{{(\w+)}}", body) for word in ("begin", "end"))
    assert sorted([*begun, "document"]) == sorted(ended)
    # A row or a line that begins with a bracket is no option of what stands before it.
    assert not re.search(r"\\\\\s*\n\s*\[", body)
    md = rl.report.write(odd, tmp_path / "r.md", title=title).read_text(encoding="utf-8")
    assert "# \\[A\\] \\*b\\* \\<i\\>" in md
    rows = [line for line in md.split("\n") if line.startswith("| ")]
    assert len({len(re.findall(r"(?<!\\)\|", line)) for line in rows}) == 1
    paper = docx.Document(str(rl.report.write(odd, tmp_path / "r.docx", title="Spring\ud800\x07")))
    assert paper.paragraphs[0].text == "Spring<U+D800><U+0007>"
    assert [row.cells[0].text for row in paper.tables[0].rows][1:] == odd.table()["stock"].to_list()


class Tags(HTMLParser):
    """Tags of a page with their attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("name", SETS)
def test_a_page_is_read_by_eye_ear_and_keyboard(name: str, place: Path) -> None:
    page = written(place, name, ".html").read_text(encoding="utf-8")
    assert len(page) < 2_000_000
    tags = Tags()
    tags.feed(page)
    of = {tag: [attrs for one, attrs in tags.found if one == tag] for tag, _ in tags.found}
    assert sorted(str(one["alt"]) for one in of["img"]) == sorted(
        f"Figure: {one.sentence} {counted(one)}".strip() for one in results(name)
    )
    heads = [one for one in of["th"] if one["scope"] == "col"]
    assert all(one["scope"] in ("col", "row") for one in of["th"])
    tables = [one.cells() for answer in document(results(name), None).answers for one in answer.tables]
    assert len(heads) == sum(len(one) for one, _, _ in tables)
    assert all(one.get("data-head") for one in of["td"])
    assert all(one["tabindex"] == "0" and one["aria-label"] for one in of["div"] if one.get("class") == "scroll")
    targets = {one["id"] for _, one in tags.found if "id" in one}
    assert {str(one["href"])[1:] for one in of["a"]} <= targets
    shown = [one for one in heads if re.search(r"\bseen\b", str(one["class"]))]
    assert len(shown) == sum(any(re.search(r"\bP\b", head) for head in one) for one, _, _ in tables)
    levels = [int(tag[1]) for tag, _ in tags.found if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert "prefers-color-scheme: dark" in page
    assert "@media print" in page


def test_a_very_long_report_stays_light(tmp_path: Path) -> None:
    many = [every_kind.made(name) for name in every_kind.ASKED if every_kind.made(name).kind != "checks"][:18]
    assert os.path.getsize(rl.report.write(many, tmp_path / "report.html")) < 2_000_000


@pytest.mark.parametrize("ending", [".docx", ".md", ".tex"])
def test_what_somebody_wrote_or_edited_is_left_as_it_is(ending: str, tmp_path: Path) -> None:
    rates = every_kind.made("take_rates")
    path = tmp_path / f"report{ending}"
    path.write_text("minutes of a meeting", encoding="utf-8")
    with pytest.raises(ReportError, match="is no report of rootling, so it is left as it is"):
        rl.report.write(rates, path)
    assert path.read_text(encoding="utf-8") == "minutes of a meeting"
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
    rl.report.write(rates, path, overwrite=True)
    rl.report.write(rates, path, title="another")
    assert "another" in text_of(path)
    _edit(path)
    edited = path.read_bytes()
    with pytest.raises(ReportError, match="is a report that was edited, so it is left as it is"):
        rl.report.write(rates, path)
    assert path.read_bytes() == edited
    rl.report.write(rates, path, overwrite=True)
    path.write_bytes(b"")
    rl.report.write(rates, path)


def _edit(path: Path) -> None:
    if path.suffix == ".docx":
        paper = docx.Document(str(path))
        paper.add_paragraph("Mine.")
        paper.core_properties.last_modified_by, paper.core_properties.revision = "somebody", 2
        paper.save(str(path))
    else:
        path.write_text(path.read_text(encoding="utf-8") + "\nMine.\n", encoding="utf-8")


def test_figures_and_tables_of_latex_have_captions_and_labels(tmp_path: Path) -> None:
    rates = every_kind.made("take_rates")
    tex = rl.report.write(rates, tmp_path / "r.tex").read_text(encoding="utf-8")
    assert tex.count(r"\begin{figure}") == tex.count(r"\end{figure}") == 1
    for one in (r"\label{fig:1}", r"\label{tab:1}", r"\begin{table}", r"\end{tabular}"):
        assert tex.count(one) == 1
    # One that is long goes on over pages, its head on each.
    checks = rl.report.write(every_kind.made("checks"), tmp_path / "c.tex").read_text(encoding="utf-8")
    for one in (r"\label{tab:1}", r"\endfirsthead", r"\endhead", r"\begin{landscape}"):
        assert checks.count(one) == 1
    assert r"\caption[]{Numbers of figure 1. n = 72 trays, 1,296 cuttings.}" in tex


@pytest.mark.parametrize("where", ["body", "one letter", "cell", "head", "picture", "deleted"])
def test_a_document_edited_by_a_program_that_names_nobody_is_left_as_it_is(where: str, tmp_path: Path) -> None:
    rates = every_kind.made("take_rates")
    path = rl.report.write(rates, tmp_path / "report.docx")
    rl.report.write(rates, path)
    paper = docx.Document(str(path))
    paper.save(str(path))
    rl.report.write(rates, path)
    paper = docx.Document(str(path))
    if where == "body":
        paper.add_paragraph("Bench 3 stood under the leak.")
    elif where == "one letter":
        run = next(run for line in paper.paragraphs for run in line.runs if run.text)
        run.text = run.text[:-1] + "~"
    elif where == "cell":
        paper.tables[0].cell(1, 1).text = "9"
    elif where == "head":
        paper.sections[0].header.paragraphs[0].text = "Draft"
    elif where == "picture":
        paper.add_picture(io.BytesIO(_dot()))
    else:
        line = paper.paragraphs[-1]._p
        line.getparent().remove(line)
    assert paper.core_properties.last_modified_by == "rootling"
    paper.save(str(path))
    edited = path.read_bytes()
    with pytest.raises(ReportError, match="is a report that was edited, so it is left as it is"):
        rl.report.write(rates, path)
    assert path.read_bytes() == edited
    # The digest is of what is read alone: text in other runs is the same text.
    rl.report.write(rates, path, overwrite=True)
    paper = docx.Document(str(path))
    run = next(run for line in paper.paragraphs for run in line.runs if len(run.text) > 3)
    words, run.text = run.text, run.text[:2]
    next(line for line in paper.paragraphs if run._r.getparent() is line._p).add_run(words[2:])
    paper.save(str(path))
    rl.report.write(rates, path)


def _dot() -> bytes:
    from matplotlib.figure import Figure

    held = io.BytesIO()
    Figure(figsize=(0.2, 0.2)).savefig(held, format="png")
    return held.getvalue()


def test_a_document_of_another_origin_is_known(tmp_path: Path) -> None:
    held = io.BytesIO()
    docx.Document().save(held)
    path = tmp_path / "report.docx"
    for data in (held.getvalue(), held.getvalue()[:200], _zip()):
        path.write_bytes(data)
        with pytest.raises(ReportError, match="is no report of rootling"):
            rl.report.write(every_kind.made("take_rates"), path)


def _zip() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as packed:
        packed.writestr("a.txt", "a")
    return held.getvalue()


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_figure_that_fails_leaves_nothing(ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rates = every_kind.made("take_rates")
    path = rl.report.write(rates, tmp_path / f"report{ending}", title="before")
    before = _all(tmp_path)
    from rootling._figures.paper import PaperFigure

    def fails(*_: Any, **__: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(PaperFigure, "savefig", fails)
    monkeypatch.setattr(PaperFigure, "outlined", fails)
    with pytest.raises(MemoryError):
        rl.report.write(rates, path, title="after")
    with pytest.raises(MemoryError):
        rl.report.write(rates, tmp_path / f"new{ending}")
    assert _all(tmp_path) == before


@pytest.mark.parametrize("step", ["folder", "text"])
@pytest.mark.parametrize("had", [True, False])
def test_a_full_disk_leaves_text_and_figures_as_they_were(
    step: str, had: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rates = every_kind.made("take_rates")
    path = tmp_path / "report.md"
    if had:
        rl.report.write(rates, path, title="before")
    before = _all(tmp_path)
    write = files._write

    def full(beside: Path, data: bytes) -> None:
        if beside.name.endswith(".json" if step == "folder" else ".part"):
            raise OSError(28, "No space left on device")
        write(beside, data)

    monkeypatch.setattr(files, "_write", full)
    with pytest.raises(ReportError, match=r"written \(No space left on device\); what stood there is as it"):
        rl.report.write(rates, path, title="after")
    assert _all(tmp_path) == before


def _all(folder: Path) -> dict[str, bytes]:
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def test_a_folder_of_other_figures_is_no_place(tmp_path: Path) -> None:
    rates = every_kind.made("take_rates")
    folder = tmp_path / "report_figures"
    folder.mkdir()
    (folder / "figure_1_take_rates.png").write_bytes(b"mine")
    with pytest.raises(ReportError, match="with figures of another report"):
        rl.report.write(rates, tmp_path / "report.md")
    assert (folder / "figure_1_take_rates.png").read_bytes() == b"mine"
    other = tmp_path / "note_figures"
    other.write_text("a file", encoding="utf-8")
    with pytest.raises(ReportError, match="is no folder that figures could go into"):
        rl.report.write(rates, tmp_path / "note.md")
    assert not (tmp_path / "note.md").exists()
