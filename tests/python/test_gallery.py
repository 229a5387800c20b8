"""The gallery: from examples and from notebooks that were run, each question with its call, figure and sentence."""

from __future__ import annotations

import base64
import importlib
import sys
from pathlib import Path
from types import ModuleType

import nbformat
import pytest
import rootling as rl
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

ROOT = Path(__file__).resolve().parents[2]
PIXEL = base64.b64encode(b"\x89PNG").decode("ascii")


@pytest.fixture
def gallery(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "notebooks-demo"))
    monkeypatch.delitem(sys.modules, "gallery", raising=False)
    return importlib.import_module("gallery")


def test_examples_become_entries(gallery: ModuleType, tmp_path: Path) -> None:
    found = list(gallery.from_examples(["compare", "rates"]))
    assert {entry.chapter for entry in found} == {"Two groups, plain counts", "Takes"}
    assert len({entry.question for entry in found}) >= 4
    for entry in found:
        assert entry.call.startswith("import rootling as rl")
        assert ">>>" not in entry.call
        assert entry.sentence.endswith(".")
        assert entry.picture.lstrip().startswith(b"<?xml")
        known: dict[str, object] = {}
        exec(entry.call, known)
    page = gallery.write(found, tmp_path).read_text(encoding="utf-8")
    assert page.count('<p class="answer">') == len(found) == page.count("<img ")
    assert sorted(one.name for one in (tmp_path / "gallery").iterdir()) == [
        f"{at:03d}.svg" for at in range(1, len(found) + 1)
    ]
    # A second time nothing is left of the first.
    gallery.write(found[:1], tmp_path)
    assert [one.name for one in (tmp_path / "gallery").iterdir()] == ["001.svg"]


def test_a_notebook_becomes_entries(gallery: ModuleType, tmp_path: Path) -> None:
    rates = rl.load_trial(
        rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments="strength", tray="tray"
    ).take_rates()
    shown = new_output("execute_result", {"text/html": rates._repr_html_(), "text/plain": repr(rates)})
    drawn = new_output("execute_result", {"image/png": PIXEL, "text/plain": "<PaperFigure>"})
    book = new_notebook(
        cells=[
            new_markdown_cell("# Which <b>strength</b>?\n\nInvented."),
            new_code_cell("trial = load()"),
            new_markdown_cell("## What is the take?"),
            new_code_cell("rates = trial.take_rates()\nrates", outputs=[shown]),
            new_code_cell("rates.plot()", outputs=[drawn]),
            new_markdown_cell("## And now?"),
            new_code_cell("1 + 1", outputs=[new_output("execute_result", {"text/plain": "2"})]),
        ]
    )
    nbformat.validate(book)
    (entry,) = gallery.from_notebook(book)
    assert entry.chapter == "Notebook: Which <b>strength</b>?"
    assert entry.question == "What is the take?"
    assert entry.call == "rates = trial.take_rates()\nrates\nrates.plot()"
    assert entry.sentence == rates.sentence
    assert entry.picture == b"\x89PNG"
    page = gallery.write([entry], tmp_path).read_text(encoding="utf-8")
    assert "<b>" not in page
    assert "Which &lt;b&gt;strength" in page
