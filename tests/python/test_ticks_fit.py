"""Marks of ratio and strength axes: no two labels touch, at whatever size the figure is set."""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable
from itertools import pairwise

import matplotlib as mpl
import pytest
import rootling as rl
from matplotlib.figure import Figure
from matplotlib.text import Text
from rootling._figures.ticks import ratio_axis
from rootling._results import Result

mpl.use("Agg")
COLUMN = 3.5


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    return rl.load_trial(
        rl.demo.factorial(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )


@pytest.fixture(scope="module")
def parted() -> rl.Trial:
    """Nothing rooted without hormone: an odds ratio over many powers of ten."""
    data = {"strength": [0] * 4 + [4000] * 4, "rooted": [0, 0, 0, 0, 10, 12, 9, 11], "stuck": [20] * 8}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return rl.load_trial(data, rooted="rooted", stuck="stuck", treatments=["strength"], tray="each-row")


Asked = Callable[[rl.Trial, rl.Trial], Result]
KINDS: dict[str, Asked] = {
    "odds ratios": lambda trial, _: trial.model(["strength", "rootstock"]).odds_ratios(),
    "odds ratios over powers of ten": lambda _, parted: parted.model("strength").odds_ratios(),
    "ratios": lambda trial, _: trial.model(["strength", "rootstock"]).contrasts("strength", scale="ratio"),
    "odds": lambda trial, _: trial.model(["strength", "rootstock"]).contrasts("rootstock", scale="odds"),
    "odds over powers of ten": lambda _, parted: parted.model("strength").contrasts("strength", scale="odds"),
    "curves compared": lambda trial, _: trial.strength_curve(within="rootstock", common="dark_days").differences(),
    "curve": lambda trial, _: trial.strength_curve(within="rootstock", common="dark_days"),
    "strengths for a take": lambda trial, _: trial.strength_curve(common=["rootstock", "dark_days"]).strength_for(0.3),
    "next trial": lambda trial, _: trial.strength_curve(common=["rootstock", "dark_days"]).next_strengths(trays=20),
    "stratified": lambda *_: rl.tables.stratified([[[12, 8], [6, 14]], [[15, 5], [9, 11]]]),
    "P values": lambda *_: rl.tables.chi_square([[156, 84], [84, 156]]),
    "P values near each other": lambda *_: rl.tables.fisher([[12, 8], [6, 14]]),
}


def _touching(figure: Figure) -> list[tuple[str, str]]:
    """Labels beside each other on an axis that touch; turned ones by how far their lines are apart."""
    figure.draw_without_rendering()
    found = []
    for axes in figure.axes:
        ends = sorted(axes.get_xlim())
        marks = zip(axes.xaxis.get_majorticklocs(), axes.xaxis.get_ticklabels(), strict=True)
        shown = [label for at, label in sorted(marks, key=lambda one: one[0]) if ends[0] <= at <= ends[1]]
        found += [(a.get_text(), b.get_text()) for a, b in pairwise(shown) if _touch(a, b)]
    return found


def _touch(one: Text, next_one: Text) -> bool:
    a, b = one.get_window_extent(), next_one.get_window_extent()
    if one.get_rotation():
        figure = one.get_figure()
        assert figure is not None
        line = one.get_fontsize() * figure.dpi / 72
        apart = (next_one.get_position()[0] - one.get_position()[0]) and (b.x1 - a.x1)
        return apart * math.sin(math.radians(one.get_rotation())) < line
    return a.x1 >= b.x0


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [None, 5.0, COLUMN])
def test_no_two_labels_touch(trial: rl.Trial, parted: rl.Trial, kind: str, width: float | None) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        figure = KINDS[kind](trial, parted).plot()
    if width is not None:
        figure.set_size_inches(width, figure.get_size_inches()[1])
    assert _touching(figure) == []
    # An axis without a label says nothing.
    assert all(any(label.get_text() for label in axes.get_xticklabels()) for axes in figure.axes)


@pytest.mark.parametrize("ends", [(0.93, 1.08), (0.4, 3.0), (0.02, 900.0), (1e-9, 1e12), (1.0, 1e300), (2.0, 2.2)])
@pytest.mark.parametrize("size", [10, 13])
def test_marks_of_any_range_fit_and_hold_no_effect(ends: tuple[float, float], size: int) -> None:
    for width in (8.0, 6.4, COLUMN, 2.0, 1.0):
        figure = Figure(figsize=(width, 2))
        axes = figure.add_subplot()
        axes.set_xscale("log")
        axes.set_xlim(*ends)
        axes.tick_params(labelsize=size)
        ratio_axis(axes.xaxis, size)
        assert _touching(figure) == []
        marks = list(axes.get_xticks())
        assert marks
        if ends[0] <= 1 <= ends[1]:
            assert any(math.isclose(mark, 1.0) for mark in marks), marks
        if width > COLUMN:
            assert len(marks) > 1
