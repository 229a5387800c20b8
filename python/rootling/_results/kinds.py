"""The registry of all kinds of results: one entry each, a class that has every face.

A class of results is entered when it is made, with its faces in its first lines; whatever shows a result looks here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from rootling._figures import counted, marks_of
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._results.result import Result

__all__ = ["KINDS", "Faces", "caption_of", "draw", "enter", "faces_of"]


class Faces(NamedTuple):
    """How a kind of result shows itself.

    Parameters
    ----------
    figure : callable
        Draws it.
    question : str
        The question that it answers, as the report asks it; names in braces are those of what was counted and asked.
    of_deaths : bool
        True where it is about deaths, whatever else was counted.
    rows : str
        The list of its numbers that has an entry for each row of its table; empty where there is none.
    """

    figure: Callable[[Result], Figure]
    question: str
    of_deaths: bool = False
    rows: str = ""


KINDS: dict[str, type[Result]] = {}


def enter(made: type[Result], faces: Faces | None) -> None:
    """Enters a class under its kind; one that is derived from another keeps the faces of that."""
    if faces is not None:
        made._faces = faces
    if made.kind:
        KINDS[made.kind] = made


def faces_of(kind: str) -> Faces | None:
    """The faces of a kind; of a record from elsewhere the kind may not be known."""
    return KINDS[kind]._faces if kind in KINDS else None


def caption_of(result: Result) -> str:
    """What belongs below the figure of a result: the finding, what the marks are, the units behind it."""
    faces = faces_of(result.kind)
    if faces is None:
        return result.sentence
    told = (result.sentence, marks_of(faces.figure, result), counted(result))
    return " ".join(part for part in told if part)


def draw(result: Result) -> Figure:
    """The figure that belongs to the result's kind."""
    faces = faces_of(result.kind)
    if faces is None:
        raise ChoiceError(f"there is no figure for a result of kind {result.kind!r}; use .table()")
    return faces.figure(result)
