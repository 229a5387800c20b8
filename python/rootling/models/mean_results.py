"""What a model of means says."""

from __future__ import annotations

from rootling import _figures
from rootling._results import Faces, Result, typed


class MeanEffects(
    Result[typed.means.MeanEffects],
    typed.means.MeanEffectsFields,
    faces=Faces(
        figure=_figures.means.effects,
        question="Which treatments change what was measured?",
        rows="effects",
    ),
):
    """Which treatments change a response: one test per effect, with its size and both parts beside."""

    kind = "mean_effects"


class AdjustedMeans(
    Result[typed.means.AdjustedMeans],
    typed.means.AdjustedMeansFields,
    faces=Faces(
        figure=_figures.means.adjusted,
        question="How much is to be expected of each {by}, other things alike?",
        rows="means",
    ),
):
    """Means from a model, averaged over the other treatments."""

    kind = "adjusted_means"


class MeanContrasts(
    Result[typed.means.MeanContrasts],
    typed.means.MeanContrastsFields,
    faces=Faces(
        figure=_figures.means.contrasts,
        question="Which levels of {by} differ in what was measured, other things alike?",
        rows="contrasts",
    ),
):
    """Differences of adjusted means with intervals that hold together and adjusted P values."""

    kind = "mean_contrasts"


class MeanLetters(
    Result[typed.means.MeanLetters],
    typed.means.MeanLettersFields,
    faces=Faces(
        figure=_figures.means.adjusted,
        question="Which levels of {by} are told apart in what was measured?",
        rows="means",
    ),
):
    """Adjusted means with letters: levels that share one are not shown to differ."""

    kind = "mean_letters"


class MeanPredictions(
    Result[typed.means.MeanPredictions],
    typed.means.MeanPredictionsFields,
    faces=Faces(
        figure=_figures.means.predictions,
        question="How much is to be expected?",
        rows="rows",
    ),
):
    """Means that a model expects of rows of levels. Made by ``model.predict(...)``."""

    kind = "mean_predictions"


class MeanChecks(
    Result[typed.means.MeanChecks],
    typed.means.MeanChecksFields,
    faces=Faces(
        figure=_figures.means.checks,
        question="Does the model of means hold?",
        rows="units",
    ),
):
    """The checks of a model of means. Made by ``model.checks()``."""

    kind = "mean_checks"
