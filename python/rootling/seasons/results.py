"""What seasons pooled are answered with."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class Pooled(
    Result[typed.seasons.Pooled],
    typed.seasons.PooledFields,
    faces=Faces(
        figure=_figures.seasons.pooled,
        question="Does the difference between levels of {factor} hold over seasons, and what of a new one?",
    ),
):
    """One difference over several seasons, with what a new one may bring."""

    kind = "pooled"


class BestOverSeasons(
    Result[typed.seasons.BestOverSeasons],
    typed.seasons.BestOverSeasonsFields,
    faces=Faces(
        figure=_figures.seasons.best_over_seasons,
        question="Where is the best {factor} over seasons, and where may a new one have it?",
    ),
):
    """The best strength over several seasons, with where a new one may have it."""

    kind = "best_over_seasons"
