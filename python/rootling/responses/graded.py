"""What questions about grades are answered with."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Grades(
    Result[typed.responses.Grades],
    typed.responses.GradesFields,
    faces=Faces(
        figure=_figures.grades.grades,
        question="What share of cuttings reaches the grade at each {factor}, and do grades differ?",
        rows="levels",
    ),
):
    """Grades at the levels of a treatment."""

    kind = "grades"
