"""The figure that ``plot()`` hands out: it shows itself in a notebook without any set-up."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from matplotlib import rc_context, rcParams
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.legend import Legend
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text

DPI = 200
# Letters stay letters in a drawing; a PDF holds the letters of fonts that it uses.
SAVED: dict[Any, Any] = {"svg.fonttype": "none", "pdf.fonttype": 42, "ps.fonttype": 42}
OUTLINED: dict[Any, Any] = {"svg.fonttype": "path", "svg.hashsalt": "rootling"}
SHOWN = 96
# Fonts with the letters of other scripts; those that are installed are lent to texts that need them.
OTHERS = (
    "Noto Sans CJK SC",
    "Noto Sans CJK JP",
    "Noto Sans CJK KR",
    "Source Han Sans SC",
    "WenQuanYi Micro Hei",
    "Droid Sans Fallback",
    "PingFang SC",
    "Hiragino Sans",
    "Microsoft YaHei",
    "Yu Gothic",
    "Malgun Gothic",
    "Arial Unicode MS",
    "Noto Sans",
    "Noto Sans Arabic",
    "Noto Sans Devanagari",
    "Noto Sans Thai",
)


@cache
def _lent() -> tuple[str, ...]:
    from matplotlib.font_manager import fontManager

    installed = {font.name for font in fontManager.ttflist}
    return tuple(name for name in OTHERS if name in installed)


class PaperFigure(Figure):
    """A matplotlib figure without a window; the last line of a notebook cell shows it."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        FigureCanvasAgg(self)
        # Keys as they were made, and what has to find its place once all else stands.
        self.keys: list[tuple[Any, Legend, dict[str, Any]]] = []
        self.places: list[Callable[[], None]] = []
        # Dots of an inch of a picture, where the figure is set for paper.
        self.dots: int | None = None

    def settle(self) -> None:
        """Lets what stands beside marks find its place again, at the size that the figure has."""
        for place in self.places:
            place()

    @contextmanager
    def _with_fonts(self) -> Iterator[None]:
        """Texts of other scripts in a font that has them; where there is none a box is drawn, and nothing is said."""
        for text in self.findobj(Text):
            if not text.get_text().isascii():
                own = [name for name in text.get_fontfamily() if name not in OTHERS]
                text.set_fontfamily([*own, *_lent()])
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph ")
            warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
            yield

    def draw(self, renderer: Any) -> None:
        """Draws it with fonts for all its letters."""
        with self._with_fonts():
            super().draw(renderer)

    def savefig(self, *arguments: Any, **options: Any) -> None:
        """Saves it with fonts for all its letters; text stays text in SVG, fonts are part of a PDF."""
        if self.dots is not None and rcParams["savefig.dpi"] == "figure":
            options.setdefault("dpi", self.dots)
        with self._with_fonts(), rc_context(SAVED):
            super().savefig(*arguments, **options)

    def bare(self) -> None:
        """Takes away what stands below the axes in words, where a caption says it."""
        self.supxlabel("")

    def outlined(self, held: io.BytesIO) -> None:
        """An SVG that looks the same everywhere: letters as outlines, the same bytes for the same figure."""
        with self._with_fonts(), rc_context(OUTLINED):
            super().savefig(held, format="svg", metadata={"Date": None, "Creator": None})

    def _repr_png_(self) -> tuple[bytes, dict[str, int]]:
        held = io.BytesIO()
        self.savefig(held, format="png", dpi=DPI)
        width, height = self.get_size_inches()
        return held.getvalue(), {"width": round(SHOWN * width), "height": round(SHOWN * height)}


def line_of(**look: Any) -> Line2D:
    """A line or a mark that stands in a legend alone."""
    return Line2D([], [], **look)


def patch_of(**look: Any) -> Patch:
    """A filled patch that stands in a legend alone."""
    return Patch(**look)
