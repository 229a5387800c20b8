"""A figure set at the width of a column or of a page: letters of one size, names broken into lines, nothing cut off."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rootling._figures.room import INCH, WIDTHS, held
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

# Points of the largest letters by width in mm, and of the smallest; of lines the thinnest.
LARGEST, SMALLEST, THINNEST = {85: 7.5, 180: 8.5}, 6.0, 0.5
# Of the width, what names of rows may take; of the height of letters, a line.
NAMES, LINE = 0.4, 1.25
# Dots of an inch as printed: at fewer, letters are rounded to whole dots and are of other widths than on paper.
DPI = 300
# Points of an inch; the lowest figure, the smallest row of names; rounds of breaking and drawing.
POINTS, LOWEST, ROUNDS = 72.0, 1.3, 4
TURNED = 40


def sized(draw: Callable[[], Figure], width: Any) -> Figure:
    """The figure as it is drawn, or at a width.

    Parameters
    ----------
    draw : callable
        Draws it.
    width : {"85 mm", "180 mm"} or None
        One column, two columns, or as it is shown on a screen.

    Raises
    ------
    ChoiceError
        When the width is none of these.
    """
    if width is None:
        return draw()
    if not isinstance(width, str) or width not in WIDTHS:
        known = " or ".join(f'"{name}"' for name in WIDTHS)
        raise ChoiceError(f"width={str(width)[:40]!r} is no width of a figure; write width={known}")
    with held(WIDTHS[width] / INCH):
        figure = draw()
    _fit(figure, WIDTHS[width])
    return figure


def _fit(figure: Any, width: int) -> None:
    texts = _texts(figure)
    largest = max((text.get_fontsize() for text in texts), default=LARGEST[width])
    scale = LARGEST[width] / largest
    height = max(LOWEST, scale * float(figure.get_size_inches()[1]))
    figure.dots = DPI
    figure.set_dpi(DPI)
    figure.set_size_inches(width / INCH, height)
    figure.get_layout_engine().set(w_pad=0.03, h_pad=0.03)
    _letters(figure, scale)
    _marks(figure, scale)
    _keys(figure, scale)
    _rows(figure)
    for _ in range(ROUNDS):
        figure.draw_without_rendering()
        if not _broken(figure):
            break
    figure.settle()


def _texts(figure: Any) -> list[Any]:
    from matplotlib.text import Text

    return [text for text in figure.findobj(Text) if text.get_text() and text.get_visible()]


def _size(points: float, scale: float) -> float:
    return max(SMALLEST, round(scale * points, 1))


def _letters(figure: Any, scale: float) -> None:
    """Letters of everything that is written, of marks on axes too."""
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            labels = axis.get_ticklabels()
            size = _size(float(labels[0].get_fontsize()) if labels else 10.0, scale)
            axis.set_tick_params(labelsize=size, length=2.5, width=0.6, pad=2)
            locator = axis.get_major_locator()
            if hasattr(locator, "size"):
                locator.size = size
            axis.labelpad = 2
            axis.get_offset_text().set_fontsize(size)
        for spine in axes.spines.values():
            spine.set_linewidth(0.6)
    for text in _texts(figure):
        text.set_fontsize(_size(text.get_fontsize(), scale))


def _marks(figure: Any, scale: float) -> None:
    """Lines, points and what stands beside a point."""
    from matplotlib.collections import PathCollection
    from matplotlib.text import Annotation

    for axes in figure.axes:
        for line in axes.lines:
            line.set_markersize(max(2.2, scale * line.get_markersize()))
            line.set_linewidth(max(THINNEST, scale * line.get_linewidth()) if line.get_linewidth() else 0.0)
            line.set_markeredgewidth(max(THINNEST, scale * line.get_markeredgewidth()))
        for drawn in axes.collections:
            drawn.set_linewidth([max(THINNEST, scale * one) if one else 0.0 for one in drawn.get_linewidths()])
            if isinstance(drawn, PathCollection):
                drawn.set_sizes([max(5.0, scale * scale * one) for one in drawn.get_sizes()])
    for text in figure.findobj(Annotation):
        if text.anncoords == "offset points":
            text.xyann = tuple(scale * one for one in text.xyann)


def _keys(figure: Any, scale: float) -> None:
    """Every key below the figure, in as many columns as there is room for."""
    wide = float(figure.get_size_inches()[0])
    for owner, legend, options in list(figure.keys):
        told = [text.get_text() for text in legend.get_texts()]
        title = legend.get_title().get_text()
        size = _size(options.get("fontsize", 9.0), scale)
        handles = options.get("handles") or _handles(owner, figure)
        for handle in options.get("handles") or ():
            # What stands in the key alone is not among the marks that were set already.
            if handle.axes is None and hasattr(handle, "set_markersize"):
                handle.set_markersize(scale * handle.get_markersize())
        legend.remove()
        longest = max([*map(len, told), 1])
        across = max(1, min(len(told), int(wide * POINTS / (size * (0.55 * longest + 4.0)))))
        lines = math.ceil(len(told) / across) + bool(title)
        made = figure.legend(
            handles,
            told,
            loc="outside lower left",
            ncols=across,
            frameon=False,
            fontsize=size,
            title=title or None,
            title_fontsize=size,
            alignment="left",
            handlelength=1.8,
            columnspacing=1.2,
            labelcolor=options.get("labelcolor"),
        )
        if owner is not figure:
            _grow(figure, lines * LINE * size / POINTS)
        made.set_in_layout(True)
    figure.keys.clear()


def _handles(owner: Any, figure: Any) -> list[Any]:
    """What the entries of a key stand for: artists with a name."""
    panels = figure.axes if owner is figure else [owner]
    return [handle for axes in panels for handle in axes.get_legend_handles_labels()[0]]


def _grow(figure: Any, by: float) -> None:
    wide, high = figure.get_size_inches()
    figure.set_size_inches(wide, high + by)


def _rows(figure: Any) -> None:
    """Names of rows that would take too much of the width, in lines; the rows get the height that these need."""
    for axes in figure.axes:
        labels = _named(axes.yaxis)
        if not labels or not axes.get_visible():
            continue
        size = axes.yaxis.get_ticklabels()[0].get_fontsize()
        letters = int(NAMES * figure.get_size_inches()[0] * POINTS / (0.55 * size))
        # Lines that are too long are broken anew as a whole, so that no word stands alone between them.
        long = [any(len(line) > letters for line in label.split("\n")) for label in labels]
        broken = [
            _lines(label.replace("\n", " "), letters) if more else label
            for label, more in zip(labels, long, strict=True)
        ]
        if broken != labels:
            axes.set_yticks(axes.get_yticks(), broken)
        most = max(label.count("\n") + 1 for label in broken)
        panels = max(1, len({round(one.get_position().y0, 2) for one in figure.axes}))
        low, high = axes.get_ylim()
        wanted = (most * LINE + 0.3) * size / POINTS * abs(high - low)
        there = 0.62 * figure.get_size_inches()[1] / panels
        if wanted > there:
            _grow(figure, (wanted - there) * panels)


def _named(axis: Any) -> list[str]:
    """The names of rows or columns, where there are names and no numbers."""
    from matplotlib.ticker import FixedLocator

    if not isinstance(axis.get_major_locator(), FixedLocator):
        return []
    names = [label.get_text() for label in axis.get_ticklabels()]
    return names if any(letter.isalpha() for name in names for letter in name) else []


def _lines(text: str, letters: int) -> str:
    return "\n".join(
        line for part in text.split("\n") for line in textwrap.wrap(part, max(6, letters), break_on_hyphens=False)
    )


def _broken(figure: Any) -> bool:
    """Breaks what is longer than its room into lines; true where something was."""
    changed = False
    right = figure.bbox.width
    for axes in (one for one in figure.axes if one.get_visible()):
        box = axes.get_window_extent()
        # A label stands in the middle of its axis, and reaches as far as the nearer edge.
        middle = 0.5 * (box.x0 + box.x1)
        changed |= _shorter(figure, axes.xaxis.label, 2 * min(middle, right - middle) - 12, "width")
        changed |= _shorter(figure, axes.yaxis.label, box.height, "height")
        for title in (axes.title, axes._left_title, axes._right_title):
            changed |= _shorter(figure, title, max(box.width, 0.3 * right), "width")
        changed |= _columns(figure, axes.xaxis)
        for text in axes.texts:
            at = text.get_window_extent()
            if text.get_text() and at.width > 0.98 * right:
                changed |= _shorter(figure, text, 0.9 * right, "width")
    for title in (figure._suptitle, figure._supxlabel):
        if title is not None:
            changed |= _shorter(figure, title, 0.98 * right, "width")
    return changed


def _shorter(figure: Any, text: Any, room: float, side: str) -> bool:
    long = float(getattr(text.get_window_extent(), side)) if text.get_text() else 0.0
    if long <= room + 3:
        return False
    said = text.get_text()
    longest = max(map(len, said.split("\n")))
    broken = _lines(said.replace("\n", " "), int(longest * room / long))
    if broken == said:
        return False
    more = broken.count("\n") - said.count("\n")
    text.set_text(broken)
    if side == "width":
        _grow(figure, max(0, more) * LINE * text.get_fontsize() / POINTS)
    return True


def _columns(figure: Any, axis: Axis) -> bool:
    """Names of columns that touch: broken into lines, and turned where that does not help."""
    names = _named(axis)
    labels = [label for label in axis.get_ticklabels() if label.get_text()]
    if not names or len(labels) < 2 or labels[0].get_rotation() or not _touch(labels):
        return False
    places = [label.get_window_extent() for label in labels]
    step = min(abs(0.5 * (b.x0 + b.x1 - a.x0 - a.x1)) for a, b in pairwise(places))
    size = float(labels[0].get_fontsize())
    letter = max(box.width / max(1, max(map(len, label.get_text().split("\n")))) for box, label in
                 zip(places, labels, strict=True))  # fmt: skip
    room = int(0.9 * step / letter)
    longest = max(len(word) for name in names for word in name.split())
    ticks = axis.get_majorticklocs()
    if room >= max(3, longest):
        broken = [_lines(name.replace("\n", " "), room) for name in names]
        axis.set_ticks(ticks, broken)
        _grow(figure, (max(name.count("\n") for name in broken)) * LINE * size / POINTS)
        return True
    axis.set_ticks(ticks, [name.replace("\n", " ") for name in names], rotation=TURNED, ha="right",
                   rotation_mode="anchor")  # fmt: skip
    _grow(figure, 0.4 * max(map(len, names)) * 0.5 * size / POINTS)
    return True


def _touch(labels: list[Any]) -> bool:
    places = sorted((label.get_window_extent() for label in labels), key=lambda box: float(box.x0))
    return any(b.x0 - a.x1 < 6 for a, b in pairwise(places))
