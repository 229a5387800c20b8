"""Figures at the width of a column or a page: nothing is cut off, no text lies over another, text stays text."""

from __future__ import annotations

import io
import re
from itertools import combinations
from typing import Any

import every_kind
import pytest
import rootling as rl
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from rootling import _figures
from rootling._results import KINDS
from rootling.exceptions import ChoiceError

# Pixels within which edges are alike; the smallest letters in points.
EDGE, SMALLEST = 3.0, 6.0
CAUTIONS = ("read the product label", "regulated", "trial a small batch", "tested range,")


def texts(figure: Figure) -> list[Text]:
    """All that is read, drawn where it will stand."""
    figure.draw_without_rendering()
    found: list[Text] = []
    for axes in (one for one in figure.axes if one.get_visible()):
        for axis in (axes.xaxis, axes.yaxis):
            low, high = sorted(axis.get_view_interval())
            # Marks beyond the ends are not drawn.
            found += [tick.label1 for tick in axis.get_major_ticks() if low <= tick.get_loc() <= high]
            found += [axis.label, axis.get_offset_text()]
        found += [*axes.texts, axes.title, axes._left_title, axes._right_title]  # type: ignore[attr-defined]
    for legend in figure.legends + [axes.get_legend() for axes in figure.axes if axes.get_legend()]:
        found += [*legend.get_texts(), legend.get_title()]
    found += [one for one in (figure._suptitle, figure._supxlabel) if one is not None]  # type: ignore[attr-defined]
    return [text for text in found if text.get_text().strip() and text.get_visible()]


def boxes(figure: Figure) -> list[tuple[str, Bbox, float]]:
    return [(text.get_text(), text.get_window_extent(), text.get_rotation() % 90) for text in texts(figure)]


def cut(figure: Figure) -> list[str]:
    """Texts that reach beyond the figure."""
    page = figure.bbox
    return [
        said
        for said, box, _ in boxes(figure)
        if box.x0 < -EDGE or box.y0 < -EDGE or box.x1 > page.width + EDGE or box.y1 > page.height + EDGE
    ]


def over(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of texts of which one lies over the other; of two that lean the ticks' own tests say it."""
    return [
        (one, other)
        for (one, a, leans), (other, b, too) in combinations(boxes(figure), 2)
        if not (leans and too) and min(a.x1, b.x1) - max(a.x0, b.x0) > EDGE and min(a.y1, b.y1) - max(a.y0, b.y0) > EDGE
    ]


def test_every_kind_is_tried() -> None:
    assert {name.split(",")[0] for name in every_kind.ASKED} == set(KINDS)


@pytest.mark.parametrize("width", ["85 mm", "180 mm"])
@pytest.mark.parametrize("name", every_kind.ASKED)
def test_text_is_legible_and_whole(name: str, width: Any) -> None:
    figure = every_kind.made(name).plot(width=width)
    assert figure.get_size_inches()[0] == pytest.approx(float(width.split()[0]) / 25.4)
    # It has to stand on a page.
    assert figure.get_size_inches()[1] < 250 / 25.4
    assert cut(figure) == []
    assert over(figure) == []
    assert min(text.get_fontsize() for text in texts(figure)) >= SMALLEST


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_axes_say_what_they_measure_and_no_caution(name: str) -> None:
    result = every_kind.made(name)
    for figure in (result.plot(), result.plot(width="85 mm")):
        said = " ".join(text.get_text().replace("\n", " ") for text in texts(figure))
        assert not [caution for caution in CAUTIONS if caution in said]
        if name != "layout":
            last = [axes for axes in figure.axes if axes.get_visible() and axes.get_xticklabels()]
            assert any(axes.get_xlabel() for axes in last)


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_a_caption_begins_with_the_finding_and_tells_the_marks(name: str) -> None:
    result = every_kind.made(name)
    assert result.caption.startswith(result.sentence)
    marks = _figures.marks_of(KINDS[result.kind]._faces.figure, result)  # type: ignore[union-attr]
    assert marks.endswith(".")
    assert marks in result.caption
    assert not re.search(r"[{}]|None|  |\.\.|_", result.caption.removeprefix(result.sentence)), result.caption
    assert rl.Result.from_json(result.to_json()).caption.startswith(result.sentence)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("take_rates", "n = 72 trays, 1,296 cuttings."),
        ("comparison", "n = 48 trays, 864 cuttings."),
        ("contrasts", "n = 72 trays, 1,296 cuttings."),
        ("checks", "n = 72 trays, 1,296 cuttings."),
        ("strength_curve", "n = 24 trays, 432 cuttings."),
        ("trend", "n = 72 trays, 1,296 cuttings."),
    ],
)
def test_a_caption_counts(name: str, told: str) -> None:
    assert every_kind.made(name).caption.endswith(told)


@pytest.mark.parametrize("width", [None, "85 mm", "180 mm"])
@pytest.mark.parametrize("name", ["letters", "letters, within"])
def test_letters_cover_nothing(name: str, width: Any) -> None:
    figure = every_kind.made(name).plot(width=width)
    figure.draw_without_rendering()
    axes = figure.axes[0]
    letters = [text for text in axes.texts if re.fullmatch("[a-z]+", text.get_text())]
    assert letters
    trays = [drawn for drawn in axes.collections if hasattr(drawn, "get_sizes") and len(drawn.get_sizes())]
    reach = 0.5 * figure.dpi / 72 * max(max(drawn.get_sizes()) for drawn in trays) ** 0.5
    places = [place for drawn in trays for place in axes.transData.transform(drawn.get_offsets())]
    # Equal trays for which there is no room are one mark with their count.
    counts = [int(text.get_text()[2:]) for text in axes.texts if re.fullmatch(r"x \d+", text.get_text())]
    assert len(places) - len(counts) + sum(counts) == 72
    for letter in letters:
        box = letter.get_window_extent()
        assert axes.get_window_extent().y1 >= box.y1
        assert not [p for p in places if box.padded(reach).contains(*p)], letter.get_text()


@pytest.mark.parametrize("name", every_kind.ASKED)
def test_saved_text_stays_text_and_fonts_are_inside(name: str) -> None:
    figure = every_kind.made(name).plot(width="85 mm")
    drawn, printed = io.BytesIO(), io.BytesIO()
    figure.savefig(drawn, format="svg")
    figure.savefig(printed, format="pdf")
    svg = drawn.getvalue().decode("utf-8")
    assert svg.count("<text") >= len({text.get_text() for text in texts(figure)})
    # Letters as letters of a font that is part of the file, not as outlines of Type 3.
    pdf = printed.getvalue()
    assert b"/FontFile2" in pdf
    assert b"/Type3" not in pdf


def test_a_width_that_is_none_is_refused() -> None:
    for wrong in ("90 mm", 85, ""):
        with pytest.raises(ChoiceError, match=r'is no width of a figure; write width="85 mm" or "180 mm"'):
            every_kind.made("take_rates").plot(width=wrong)
    estimate = rl.rates.interval([1, 2], [3, 4])
    assert estimate.plot(width="85 mm").get_size_inches()[0] == pytest.approx(85 / 25.4)
    assert estimate.caption.endswith("95 % intervals.")
    model = every_kind.model()
    assert model.caption == model.what_matters().caption
    assert every_kind.plan().plot(blind=True, width="180 mm").get_size_inches()[0] == pytest.approx(180 / 25.4)
