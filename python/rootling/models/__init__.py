"""Models of the take rate and of means: tests of effects, odds ratios, adjusted rates, contrasts and letters."""

# The room, in reading order:
# ``model``: a fitted model: what it holds, and its questions
# ``effects``: asked of its effects
# ``levels``: asked of levels: contrasts and letters
# ``after``: asked after the fit: predictions, checks, tests against other models
# ``given``: weights, shares and levels as the core reads them
# ``faces``: how it is shown, and made from its record
# ``results``: the answers
# ``means``: a model of means with its questions; ``mean_results``: its answers

from rootling.models.mean_results import (
    AdjustedMeans,
    MeanChecks,
    MeanContrasts,
    MeanEffects,
    MeanLetters,
    MeanPredictions,
)
from rootling.models.means import MeanModel
from rootling.models.model import Model
from rootling.models.results import (
    AdjustedRates,
    BootstrapTest,
    Checks,
    Coefficients,
    Contrasts,
    Letters,
    ModelComparison,
    OddsRatios,
    Predictions,
    WhatMatters,
)

__all__ = ["AdjustedRates", "BootstrapTest", "Checks", "Coefficients", "Contrasts", "Letters", "Model"]
__all__ += ["AdjustedMeans", "MeanChecks", "MeanContrasts", "MeanEffects", "MeanLetters", "MeanModel"]
__all__ += ["MeanPredictions"]
__all__ += ["ModelComparison", "OddsRatios", "Predictions", "WhatMatters"]
