"""What a choice in money is answered with."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class LevelChoice(
    Result[typed.decide.LevelChoice],
    typed.decide.LevelChoiceFields,
    faces=Faces(
        figure=_figures.decide.level_choice,
        question="Which level of {factor} brings most money, and is one more trial worth what it costs?",
    ),
):
    """What each level of a treatment brings in money, and which to choose."""

    kind = "level_choice"
