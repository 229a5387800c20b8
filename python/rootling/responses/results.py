"""What a trial answers of its responses."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class ResponseMeans(
    Result[typed.responses.ResponseMeans],
    typed.responses.ResponseMeansFields,
    faces=Faces(
        figure=_figures.responses.means,
        question="How much of each response do cuttings have?",
        rows="means",
    ),
):
    """Means of a response per treatment, with the two parts behind them."""

    kind = "response_means"


class ResponseComparison(
    Result[typed.responses.ResponseComparison],
    typed.responses.ResponseComparisonFields,
    faces=Faces(
        figure=_figures.responses.comparison,
        question="Do {factor} {first} and {second} differ in what was measured, and by how much?",
    ),
):
    """Two levels of a treatment compared in a response."""

    kind = "response_comparison"
