"""What a model says of its effects, and what follows a fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling import _figures
from rootling._given.choices import CheckPanel, FigureWidth
from rootling._results import Faces, Result, typed

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class WhatMatters(
    Result[typed.asked.WhatMatters],
    typed.asked.WhatMattersFields,
    faces=Faces(
        figure=_figures.effects.what_matters,
        question="Which treatments matter?",
        rows="effects",
    ),
):
    """Which treatments matter: one test per effect, with its size and what is not ruled out."""

    kind = "what_matters"


class OddsRatios(
    Result[typed.asked.OddsRatios],
    typed.asked.OddsRatiosFields,
    faces=Faces(
        figure=_figures.effects.odds_ratios,
        question="How strongly does each level act, as odds ratios?",
        rows="ratios",
    ),
):
    """Odds ratios with intervals by the score (or the likelihood profile)."""

    kind = "odds_ratios"


class Coefficients(
    Result[typed.asked.Coefficients],
    typed.asked.CoefficientsFields,
    faces=Faces(
        figure=_figures.effects.coefficients,
        question="How strongly does each level act, as coefficients?",
        rows="coefficients",
    ),
):
    """Coefficients on the scale of the link, for any link, with intervals."""

    kind = "coefficients"


class AdjustedRates(
    Result[typed.asked.AdjustedRates],
    typed.asked.AdjustedRatesFields,
    faces=Faces(
        figure=_figures.adjusted.adjusted_rates,
        question="What {rate} is to be expected of each {by}, other things alike?",
        rows="rates",
    ),
):
    """Take rates from a model, averaged over the other effects."""

    kind = "adjusted_rates"


class Contrasts(
    Result[typed.asked.Contrasts],
    typed.asked.ContrastsFields,
    faces=Faces(
        figure=_figures.contrasts.contrasts,
        question="Which levels of {by} differ, other things alike?",
        rows="contrasts",
    ),
):
    """Differences (or ratios) of adjusted rates with intervals that hold together and adjusted P values."""

    kind = "contrasts"


class Letters(
    Result[typed.asked.Letters],
    typed.asked.LettersFields,
    faces=Faces(
        figure=_figures.adjusted.adjusted_rates,
        question="Which levels of {by} are told apart?",
        rows="rates",
    ),
):
    """Adjusted rates with letters: levels that share one are not shown to differ."""

    kind = "letters"


class Predictions(
    Result[typed.asked.Predictions],
    typed.asked.PredictionsFields,
    faces=Faces(
        figure=_figures.rates.predictions,
        question="What {rate} is to be expected?",
        rows="rows",
    ),
):
    """Take rates that a model expects of new rows. Made by ``model.predict(...)``."""

    kind = "predictions"


class ModelComparison(
    Result[typed.asked.ModelComparison],
    typed.asked.ModelComparisonFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the larger model say more?",
    ),
):
    """A model against a smaller one that it contains. Made by ``model.against(...)``."""

    kind = "model_comparison"


class BootstrapTest(
    Result[typed.asked.BootstrapTest],
    typed.asked.BootstrapTestFields,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the effect stand against trials drawn without it?",
    ),
):
    """The test of an effect by parametric bootstrap. Made by ``model.bootstrap_test(...)``."""

    kind = "bootstrap_test"


class Checks(
    Result[typed.asked.Checks],
    typed.asked.ChecksFields,
    faces=Faces(
        figure=_figures.checks.draw,
        question="Does the model hold?",
        rows="trays",
    ),
):
    """The checks of a fitted model. Made by ``model.checks()``.

    ``table()`` has one row per tray: the count, what was expected, residuals, leverage, and how far the expected rates
    would move without the tray, as proportions (``one_step_change`` from the fit, ``refit_change`` by fitting without
    it). ``quantile_residual`` is standard normal if the model holds (Dunn and Smyth 1996). Figures for the model as a
    whole: ``goodness_of_fit``, ``dispersion``, ``hosmer_lemeshow`` (single cuttings only), ``link_check``,
    ``calibration``.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> checks = trial.model(["strength"]).checks()
    >>> checks.dispersion.df
    5.0
    """

    kind = "checks"

    def plot(self, panel: CheckPanel | None = None, *, width: FigureWidth | None = None) -> Figure:
        """Four panels, or one of them.

        Parameters
        ----------
        panel : {"calibration", "change", "residuals", "order"}, optional
            Observed against expected rates in groups; how far a rate moves without each tray, the largest first;
            quantile residuals against expected rates, with names where chance gives none so far out; their order
            against that of normal values, with an envelope that holds 95 % of each.
        width : {"85 mm", "180 mm"}, optional
            Set for one column or for two of a journal; as it reads best on a screen when left out.
        """
        return self._drawn(lambda: _figures.checks.draw(self, panel), width)
