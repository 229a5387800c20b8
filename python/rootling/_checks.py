"""What follows a fit: predictions, checks of the model, and tests of one model against another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rootling import _figures
from rootling._given.choices import CheckPanel
from rootling._results import Faces, Result, scales

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["BootstrapTest", "Checks", "ModelComparison", "Predictions"]


class Predictions(
    Result,
    faces=Faces(
        figure=_figures.rates.predictions,
        question="What {rate} is to be expected?",
        scale=scales.of_rates,
    ),
):
    """Take rates that a model expects of new rows. Made by ``model.predict(...)``."""

    kind = "predictions"


class ModelComparison(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the larger model say more?",
        scale=scales.plain,
    ),
):
    """A model against a smaller one that it contains. Made by ``model.against(...)``."""

    kind = "model_comparison"


class BootstrapTest(
    Result,
    faces=Faces(
        figure=_figures.counts.p_values,
        question="Does the effect stand against trials drawn without it?",
        scale=scales.plain,
    ),
):
    """The test of an effect by parametric bootstrap. Made by ``model.bootstrap_test(...)``."""

    kind = "bootstrap_test"


def _named_units(result: Result) -> dict[str, str]:
    """Trays are called what they are in the trial."""
    unit = result._record.get("unit")
    return {"tray": unit} if isinstance(unit, str) and unit else {}


class Checks(
    Result,
    faces=Faces(
        figure=_figures.checks.draw,
        question="Does the model hold?",
        scale=scales.plain,
        heads=_named_units,
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

    def plot(self, panel: CheckPanel | None = None) -> Figure:
        """Four panels, or one of them.

        Parameters
        ----------
        panel : {"calibration", "change", "residuals", "order"}, optional
            Observed against expected rates in groups; how far a rate moves without each tray, the largest first;
            quantile residuals against expected rates, with names where chance gives none so far out; their order
            against that of normal values, with an envelope that holds 95 % of each.
        """
        return self._drawn(lambda: _figures.checks.draw(self, panel))
