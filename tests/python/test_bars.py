"""Bars for work that takes long: where somebody waits, nowhere else, gone at the end, and never in an answer."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import every_kind
import pytest
import rootling as rl
from rootling._guards import bars, quiet

ASKED = {"takes": (0.5, 0.75), "trays": [4, 6], "correlation": 0.05, "draws": 200}


class Line:
    """A bar that is only noted."""

    def __init__(self, total: int, **_: Any) -> None:
        self.total, self.n, self.closed = total, 0, False
        made.append(self)

    def update(self, more: int) -> None:
        self.n += more

    def close(self) -> None:
        self.closed = True


made: list[Line] = []


@pytest.fixture
def waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    made.clear()
    monkeypatch.setattr("tqdm.tqdm", Line)
    monkeypatch.setattr(bars, "_waited_for", lambda: not bars._SILENT.get())


def test_work_that_tells_has_a_bar(waited_for: None) -> None:
    takes = ASKED["takes"]
    told = rl.plan.power(takes, **{name: one for name, one in ASKED.items() if name != "takes"})
    assert len(made) == 1
    assert made[0].closed
    assert made[0].n == made[0].total > 0
    with quiet():
        assert rl.plan.power(takes, **{name: one for name, one in ASKED.items() if name != "takes"}) == told
    assert len(made) == 1


def test_trials_have_bars(waited_for: None) -> None:
    """Trays dealt by drawing, curves with drawn trials, a surface: all parts told at the end, and the same answers."""
    trial = every_kind.several()
    many = rl.load_trial(rl.demo.strengths(seed=1), **every_kind.PLAIN, treatments=["strength", "rootstock"])
    dark = rl.load_trial(rl.demo.factorial(seed=1), **every_kind.PLAIN, treatments=["strength", "dark_days"])
    asked = [
        lambda: trial.compare("strength", 0, 5000),
        lambda: trial.compare_all("strength"),
        lambda: many.strength_curve(within="rootstock", shape="hump", draws=19),
        lambda: dark.response_surface(),
    ]
    for number, ask in enumerate(asked, 1):
        told = ask()
        assert len(made) == number
        assert made[-1].closed
        assert made[-1].n == made[-1].total > 1
        with quiet():
            assert ask() == told


def test_a_progress_of_the_callers_own_is_told_alone(waited_for: None) -> None:
    seen: list[tuple[int, int]] = []
    rl.compare.randomisation([0.2, 0.3, 0.4, 0.3], [0.5, 0.6, 0.4, 0.7], progress=lambda *parts: seen.append(parts))
    assert made == []


def test_a_report_tells_its_answers(waited_for: None, tmp_path: Path) -> None:
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments="strength", tray="tray"
    )
    asked = [trial, trial.take_rates(), trial.compare("strength", 2500, 5000)]
    for ending in (".html", ".docx", ".md", ".tex"):
        seen: list[tuple[int, int]] = []
        rl.report.write(asked, tmp_path / f"r{ending}", progress=lambda *parts, to=seen: to.append(parts))
        assert seen == [(0, 2), (1, 2), (2, 2)]
    assert made == []
    rl.report.write(asked, tmp_path / "r.html")
    assert [one.closed for one in made] == [True]


def test_an_error_takes_the_bar_away(waited_for: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from rootling._figures.paper import PaperFigure

    def fails(*_: Any, **__: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(PaperFigure, "outlined", fails)
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments="strength", tray="tray"
    )
    with pytest.raises(MemoryError):
        rl.report.write(trial, tmp_path / "r.html")
    assert [one.closed for one in made] == [True]


CODE = """
import rootling as rl
rl.plan.power((0.5, 0.75), trays=[4, 6, 8, 12], correlation=(0.01, 0.05), draws=20000)
print("told")
"""


def test_no_bar_goes_into_a_pipe() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, timeout=120, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "told\n", "")


def test_a_bar_is_seen_at_a_terminal() -> None:
    """Its line stands there while the work goes on, and is gone when it is done."""
    own, other = pty.openpty()
    begun = time.monotonic()
    with subprocess.Popen([sys.executable, "-c", CODE], stdout=subprocess.PIPE, stderr=other) as process:
        os.close(other)
        seen = b""
        while time.monotonic() - begun < 120:
            ready, _, _ = select.select([own], [], [], 0.2)
            try:
                part = os.read(own, 65536) if ready else b""
            except OSError:
                break
            seen += part
            if process.poll() is not None and not part:
                break
        assert process.stdout is not None
        assert process.stdout.read() == b"told\n"
    os.close(own)
    # It is shown after a second only; on a machine that is done by then there is none.
    assert process.returncode == 0
    if b"%" in seen:
        assert seen.rstrip(b"\r").rstrip().endswith(b"\r") or seen.endswith((b" \r", b"\r"))
