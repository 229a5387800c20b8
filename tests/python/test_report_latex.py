"""LaTeX reports are set by pdflatex, where there is one: every demo and published set, and every kind of answer."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import every_kind
import pypdfium2
import pytest
import reports_made
import rootling as rl

PROGRAM = reports_made.program("pdflatex")
needs_tex = pytest.mark.skipif(PROGRAM is None, reason="no pdflatex on this machine: LaTeX reports are not set here")


def _set(path: Path) -> tuple[pypdfium2.PdfDocument, str]:
    """The pages, and what was said of them."""
    command = [str(PROGRAM), "-interaction=nonstopmode", "-halt-on-error", path.name]
    done = subprocess.run(command, cwd=path.parent, capture_output=True, timeout=300, check=False)
    said = path.with_suffix(".log").read_text(encoding="utf-8", errors="replace")
    assert done.returncode == 0, said[-2000:]
    return pypdfium2.PdfDocument(path.with_suffix(".pdf").read_bytes()), said


def _is_whole(path: Path, answers: list[object]) -> None:
    pages, said = _set(path)
    told = re.sub(r"[\s\ufffe\u00ad-]+", "", "".join(page.get_textpage().get_text_bounded() for page in pages))
    plain = re.compile(r"[A-Za-z0-9 ,.:;()%/+-]+")
    for sentence in (str(getattr(one, "sentence", "")) for one in answers):
        # Ligatures and quotes are signs of their own in what is set.
        bare = re.sub(r"[\s-]+", "", sentence)
        assert not plain.fullmatch(sentence) or re.sub("f[fil]+", "", bare) in re.sub(
            "f[fil]+|[\ufb00-\ufb04]", "", told
        )
    # Nothing runs off the foot of a page, and hardly anything over its side (half a line of letters).
    assert "Overfull \\vbox" not in said
    assert [one for one in re.findall(r"Overfull \\hbox \(([\d.]+)pt", said) if float(one) > 15] == []


@needs_tex
@pytest.mark.parametrize("name", reports_made.SETS)
def test_a_set_is_set(name: str, tmp_path: Path) -> None:
    _is_whole(rl.report.write(reports_made.asked(name), tmp_path / f"{name}.tex"), reports_made.asked(name))


@needs_tex
def test_every_kind_is_set(tmp_path: Path) -> None:
    answers = [every_kind.made(name) for name in every_kind.ASKED]
    _is_whole(rl.report.write(answers, tmp_path / "kinds.tex"), list(answers))


def test_letters_of_other_scripts_are_declared(tmp_path: Path) -> None:
    text = rl.report.write(reports_made.asked("hostile"), tmp_path / "r.tex").read_text(encoding="utf-8")
    assert "\\DeclareUnicodeCharacter{05E9}{[U+05E9]}" in text
    plain = rl.report.write(reports_made.asked("two_strengths"), tmp_path / "p.tex").read_text(encoding="utf-8")
    assert "DeclareUnicodeCharacter" not in plain
    assert shutil.which("pdflatex") == PROGRAM
