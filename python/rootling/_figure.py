"""The figure that ``plot()`` hands out: it shows itself in a notebook without any set-up."""

from __future__ import annotations

import io
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

DPI = 200
SHOWN = 96


class PaperFigure(Figure):
    """A matplotlib figure without a window; the last line of a notebook cell shows it."""

    def __init__(self, *arguments: Any, **options: Any) -> None:
        super().__init__(*arguments, **options)
        FigureCanvasAgg(self)

    def _repr_png_(self) -> tuple[bytes, dict[str, int]]:
        held = io.BytesIO()
        self.savefig(held, format="png", dpi=DPI)
        width, height = self.get_size_inches()
        return held.getvalue(), {"width": round(SHOWN * width), "height": round(SHOWN * height)}
