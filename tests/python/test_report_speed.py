"""A report is written quickly, in seconds of the processor: large tables beyond their figures, the demo with them."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import every_kind
import pytest
import rootling as rl
from rootling._figures.paper import PaperFigure
from rootling._results import Result

ENDINGS = [".html", ".docx", ".md", ".tex"]
LARGE, DEMO = 2.0, 1.5


@pytest.fixture(scope="module")
def large() -> list[Any]:
    """Sixty treatments in twelve blocks."""
    draw = random.Random(1)
    rows = [(f"C{clone:02d}", f"B{block}") for clone in range(60) for block in range(12)]
    rooted = [sum(draw.random() < 0.2 + 0.01 * int(clone[1:]) for _ in range(20)) for clone, _ in rows]
    columns = {"clone": [clone for clone, _ in rows], "block": [block for _, block in rows], "rooted": rooted}
    names = {"rooted": "rooted", "treatments": "clone", "block": "block", "tray": "each-row"}
    trial = rl.load_trial({**columns, "stuck": [20] * len(rows)}, stuck="stuck", **names)
    model = trial.model("clone")
    asked = [model.what_matters(), model.adjusted_rates("clone"), model.contrasts("clone", against="C00")]
    return [trial, trial.take_rates("clone"), *asked]


@pytest.fixture
def drawing(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Seconds that drawing took."""
    spent: list[float] = []

    def timed(call: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any, **named: Any) -> Any:
            begun = time.process_time()
            try:
                return call(*given, **named)
            finally:
                spent.append(time.process_time() - begun)

        return run

    monkeypatch.setattr(Result, "plot", timed(Result.plot))
    for name in ("savefig", "outlined"):
        monkeypatch.setattr(PaperFigure, name, timed(getattr(PaperFigure, name)))
    return spent


@pytest.mark.parametrize("ending", ENDINGS)
def test_sixty_treatments_in_twelve_blocks(ending: str, large: list[Any], drawing: list[float], tmp_path: Path) -> None:
    begun = time.process_time()
    path = rl.report.write(large, tmp_path / f"report{ending}")
    spent = time.process_time() - begun
    assert drawing
    assert spent - sum(drawing) < LARGE
    assert path.stat().st_size < 2_000_000


@pytest.mark.parametrize("ending", ENDINGS)
def test_the_demo(ending: str, tmp_path: Path) -> None:
    trial = rl.load_trial(rl.demo.two_strengths(seed=1), **every_kind.PLAIN, treatments="strength")
    begun = time.process_time()
    rl.report.write(
        [trial, trial.compare("strength", 2500, 5000), trial.take_rates("strength")], tmp_path / f"r{ending}"
    )
    assert time.process_time() - begun < DEMO
