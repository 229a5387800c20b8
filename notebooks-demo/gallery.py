"""The gallery: each question with its call, figure and sentence, from notebooks and the documentation's examples."""

from __future__ import annotations

import ast
import base64
import contextlib
import doctest
import importlib
import io
import pkgutil
import re
import warnings
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jinja2
import rootling as rl
from rootling._pages import STYLE
from rootling._results import Result
from rootling.exceptions import ChoiceError
from rootling.report.words import question

# Rooms whose examples are shown, and how the page calls them, in the order of a year.
ROOMS = {
    "plan": "Planning a trial",
    "rates": "Takes",
    "trial": "Asked of a trial",
    "compare": "Two groups, plain counts",
    "tables": "Tables, plain counts",
    "models": "Asked of a model",
    "curves": "Strengths",
    "steps": "From graft to tree",
    "watch": "A crop under watch",
}
HEAD = re.compile(r"^#{1,3} (.+)$", re.MULTILINE)

PAGE = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Gallery: questions and their answers</title><style>{{ style | safe }}
.call { font-size: .85rem; } nav ul { columns: 16rem; } </style></head>
<body><main>
<h1>Questions and their answers</h1>
<p>Every question with its call, its figure and its sentence. Data are invented, but where a text says otherwise.</p>
<nav aria-label="Chapters"><ul>
{% for chapter, entries in chapters %}<li><a href="#chapter-{{ loop.index }}">{{ chapter }}</a></li>
{% endfor %}</ul></nav>
{% for chapter, entries in chapters %}
<h2 class="trial" id="chapter-{{ loop.index }}">{{ chapter }}</h2>
{% for entry in entries %}
<h3>{{ entry.question }}</h3>
<p class="answer">{{ entry.sentence }}</p>
{% if entry.figure %}<figure><img loading="lazy" src="{{ entry.figure }}" alt="Figure: {{ entry.sentence }}"></figure>
{% endif %}
<pre class="call" tabindex="0">{{ entry.call }}</pre>
{% endfor %}
{% endfor %}
</main></body></html>
"""


@dataclass
class Entry:
    """One question, answered."""

    chapter: str
    question: str
    call: str
    sentence: str
    # A picture and the ending of its file; none where nothing is drawn.
    picture: bytes | None
    ending: str = "svg"


def from_notebook(notebook: Any) -> Iterator[Entry]:
    """Answers of a notebook that was run: what a cell below a heading said, and its figure or that of later cells."""
    chapter = asked = ""
    last: Entry | None = None
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            heads = HEAD.findall(cell.source)
            if heads and last is not None:
                yield last
                last = None
            chapter = chapter or (heads[0] if heads else "")
            asked = heads[-1] if heads else asked
            continue
        said, picture = _told(cell)
        if said is not None:
            if last is not None:
                yield last
            last = Entry(f"Notebook: {chapter}", asked, cell.source, said, picture, "png")
        elif picture is not None and last is not None and last.picture is None:
            last.call, last.picture = f"{last.call}\n{cell.source}", picture
    if last is not None:
        yield last


def _told(cell: Any) -> tuple[str | None, bytes | None]:
    """The sentence of an answer and the picture that a cell put out."""
    said = picture = None
    for one in cell.get("outputs", ()):
        data = one.get("data", {})
        if "rootling-details" in data.get("text/html", "") or "rootling-table" in data.get("text/html", ""):
            said = str(data["text/plain"]).split("\n\n")[0].replace("\n", " ")
        if "image/png" in data:
            picture = base64.b64decode(data["image/png"])
    return said, picture


def from_examples(rooms: Iterable[str] = tuple(ROOMS)) -> Iterator[Entry]:
    """Answers of the documentation's examples: of each kind the first that comes."""
    seen: set[str] = set()
    for room in rooms:
        for test in _examples(room):
            for call, result in _answers(test):
                if result.kind not in seen:
                    seen.add(result.kind)
                    yield Entry(ROOMS[room], question(result), call, result.sentence, _drawn(result))


def _examples(room: str) -> list[doctest.DocTest]:
    """The examples of a room, in the order of its files."""
    package = importlib.import_module(f"rootling.{room}")
    names = [package.__name__]
    if hasattr(package, "__path__"):
        names += [one.name for one in pkgutil.iter_modules(package.__path__, f"{package.__name__}.")]
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [test for name in names for test in finder.find(importlib.import_module(name))]
    return [test for test in found if test.examples]


def _answers(test: doctest.DocTest) -> Iterator[tuple[str, Result]]:
    """The results that come up while an example runs, each with the lines that lead to it."""
    made: list[Result] = []
    start = Result.__init__

    def noted(self: Result, *given: Any, **named: Any) -> None:
        start(self, *given, **named)
        made.append(self)

    known: dict[str, Any] = dict(test.globs)
    before: list[str] = []
    for example in test.examples:
        made.clear()
        Result.__init__ = noted  # type: ignore[method-assign]
        try:
            with contextlib.redirect_stdout(io.StringIO()), warnings.catch_warnings(), contextlib.suppress(Exception):
                warnings.simplefilter("ignore")
                exec(compile(example.source, test.name, "single"), known)
        finally:
            Result.__init__ = start  # type: ignore[method-assign]
        yield from (("".join([*before, example.source]).rstrip(), result) for result in made[-1:])
        if not all(isinstance(line, ast.Expr) for line in ast.parse(example.source).body):
            # What only shows something is no part of the way to the next answer.
            before.append(example.source)


def _drawn(result: Result) -> bytes | None:
    held = io.BytesIO()
    try:
        figure: Any = result.plot()
    except ChoiceError:
        return None
    figure.bare()
    figure.outlined(held)
    return held.getvalue()


def write(entries: Iterable[Entry], folder: Path) -> Path:
    """The page, and its pictures in a folder beside it."""
    pictures = folder / "gallery"
    pictures.mkdir(parents=True, exist_ok=True)
    for old in pictures.iterdir():
        old.unlink()
    chapters: dict[str, list[dict[str, Any]]] = {}
    for at, entry in enumerate(entries, 1):
        name = None
        if entry.picture is not None:
            name = f"{at:03d}.{entry.ending}"
            (pictures / name).write_bytes(entry.picture)
        shown = {"question": entry.question, "call": entry.call, "sentence": entry.sentence}
        chapters.setdefault(entry.chapter, []).append({**shown, "figure": name and f"gallery/{name}"})
    template = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(PAGE)
    target = folder / "gallery.html"
    target.write_text(template.render(style=STYLE, chapters=list(chapters.items())), encoding="utf-8")
    return target


def main() -> None:
    """The page of the documentation's examples alone."""
    folder = Path(__file__).resolve().parents[1] / ".demo-output"
    print(f"{write(from_examples(), folder).name} of rootling {rl.__version__} is written.")


if __name__ == "__main__":
    main()
