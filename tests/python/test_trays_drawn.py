"""Single trays in figures: equal ones stand side by side, or as one mark with their count; none is hidden."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any

import pytest
import rootling as rl

SHARES = {0: [0] * 6 + [5, 10], 1000: [50] * 8, 2500: [75, 75, 75, 80, 80, 85, 85, 90]}


def trial(name: str = "{}", copies: int = 1) -> rl.Trial:
    rows = [(name.format(level), share) for level, shares in SHARES.items() for share in shares for _ in range(copies)]
    frame = {
        "strength": [level for level, _ in rows],
        "tray": list(range(len(rows))),
        "rooted": [share // 5 for _, share in rows],
        "stuck": [20] * len(rows),
    }
    return rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")


def asked(name: str, of: rl.Trial) -> Any:
    if name == "take_rates":
        return of.take_rates("strength")
    return of.trend("strength") if name == "trend" else of.model("strength").letters("strength")


def shown(figure: Any) -> tuple[list[tuple[float, float]], int]:
    """Where open marks stand, in pixels, and how many trays they stand for."""
    figure.draw_without_rendering()
    (axes,) = figure.axes
    marks = [
        one
        for one in axes.collections
        if hasattr(one, "get_sizes") and len(one.get_sizes()) and not len(one.get_facecolors())
    ]
    places = [tuple(axes.transData.transform(at)) for one in marks for at in one.get_offsets()]
    counts = [int(found[1]) for text in axes.texts if (found := re.fullmatch(r"x (\d+)", text.get_text()))]
    return places, len(places) - len(counts) + sum(counts)


@pytest.mark.parametrize("width", [None, "85 mm", "180 mm"])
@pytest.mark.parametrize("name", ["take_rates", "letters", "trend"])
def test_no_tray_is_drawn_over_another(name: str, width: Any) -> None:
    for copies in (1, 5):
        places, trays = shown(asked(name, trial(copies=copies)).plot(width=width))
        assert max(Counter((round(x), round(y)) for x, y in places).values()) == 1
        if copies == 1:
            assert trays == 24


@pytest.mark.parametrize("width", [None, "85 mm"])
def test_trays_of_long_names_below_their_rate(width: Any) -> None:
    places, trays = shown(trial("a rather long name {}").take_rates("strength").plot(width=width))
    assert max(Counter((round(x), round(y)) for x, y in places).values()) == 1
    assert trays == 24


def test_many_equal_trays_are_one_mark_with_their_count() -> None:
    figure = trial(copies=5).take_rates("strength").plot(width="85 mm")
    assert "x 40" in [text.get_text() for text in figure.axes[0].texts]
