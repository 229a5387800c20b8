"""The look of figures: colours that stay apart for everyone, a marker shape of its own per group, axes."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from rootling._words import clean

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from rootling._results import Result


# Colours of Okabe & Ito (2008), told apart with any colour vision; markers tell them apart without colour.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#000000")
MARKERS = ("o", "s", "^", "D", "v", "P", "X")
INK = "#2b2f27"
FAINT = "#c9cdc2"
GREY = "#6d7268"
# Letters of a name that a figure can show.
LONGEST = 60
# Lines of a name that stands in lines.
MOST_LINES = 5
# At 85 mm a figure of this width is reduced to about half: 14 points become 7.
WIDTH = 6.4
LABEL = 14
TICK = 13
SMALL = 12


def one_panel(width: float = 6.4, height: float = 3.8) -> tuple[Figure, Axes]:
    from rootling._figures.paper import PaperFigure

    figure = PaperFigure(figsize=(width, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK, labelsize=10)
    return figure, axes


def key_of(owner: Any, **options: Any) -> Any:
    """What the marks mean, beside the axes; a figure remembers its keys, since at another width they move."""
    made = owner.legend(**{"frameon": False, "fontsize": 9, **options})
    figure = owner.get_figure() or owner
    figure.keys.append((owner, made, options))
    return made


def as_text(text: Any) -> str:
    """Text as it is: a dollar sign starts no formula, a control character is a mark, a long name is cut."""
    shown = clean(str(text))
    if len(shown) > LONGEST:
        shown = f"{shown[: LONGEST // 2]} ... {shown[-LONGEST // 4 :]}"
    return shown.replace("$", r"\$")


def in_lines(text: Any, letters: int = 34) -> str:
    r"""A name in whole words, in lines of so many letters where it is longer; a word alone that is very long is cut.

    >>> in_lines("odds of rooting, strength 5000 against 2500", 24)
    'odds of rooting,\nstrength 5000 against\n2500'
    """
    words = [word if len(word) <= LONGEST else as_text(word) for word in clean(str(text)).replace("$", r"\$").split()]
    lines = textwrap.wrap(" ".join(words), letters, break_long_words=False, break_on_hyphens=False)
    return "\n".join(lines[:MOST_LINES]) + (" ..." if len(lines) > MOST_LINES else "")


def limits(row: dict[str, Any]) -> tuple[float, float]:
    low, high = row.get("low"), row.get("high")
    value = row["value"]
    return (value if low is None else low), (value if high is None else high)


def look(at: int) -> dict[str, Any]:
    return {"color": COLOURS[at % len(COLOURS)], "marker": MARKERS[at % len(MARKERS)]}


def percent_axis(axes: Axes, label: str) -> None:
    axes.set_ylim(-3, 103)
    axes.set_ylabel(label, color=INK)
    axes.grid(axis="y", color=FAINT, linewidth=0.6)
    axes.set_axisbelow(True)


def with_unit(result: Result, name: str) -> str:
    """A column's name for an axis, with unit, substance and method when it is the declared strength."""
    trial = result._context.get("trial")
    spoken = name.replace("_", " ")
    unit = None if trial is None else trial._unit_of(name)
    # A column that names its unit needs no second one.
    return spoken if unit is None or unit in spoken else f"{spoken}, {unit}"
