"""The strength curve: how the take follows hormone strength, where it is best, and how sure that is.

Shapes, by the name that ``shape=`` accepts; ``x = log(1 + d/d0)``, ``F`` rises from 0 to 1 along ``log d``:

``flat``
    one take at all strengths.
``straight``
    log odds straight in ``x``.
``rising``
    ``floor + (ceiling - floor) F``, 4 parameters. ``natural-response`` has the ceiling at 1 (Abbott, Finney),
    ``rising-from-none`` the floor at 0, ``rising-from-none-to-all`` both.
``falling``
    ``floor (1 - F)``: the take without hormone, burnt away.
``hump``
    log odds quadratic in ``x``, opening downward.
``rise-and-fall``
    a rising times a falling logistic curve in ``x``.
``brain-cousens``
    ``(c + f d) / (1 + (d/e)^b)``.

``"auto"`` weighs flat, straight, rising, falling, hump, rise-and-fall and brain-cousens. Shapes with more parameters
than there are strengths stay out and are named.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._results import Figures, Result

if TYPE_CHECKING:
    import polars as pl

__all__ = ["CurveComparison", "StrengthCurve", "StrengthsFor"]

SHAPE_NUMBERS = ("weight", "say", "aicc", "loglik", "deviance", "lack_dof", "lack_p_value")
SHAPE_FIGURES = ("shape", *SHAPE_NUMBERS, "verdict", "reason")


class StrengthsFor(Result):
    """The lowest strength with a wanted take, by curve and method. Made by ``StrengthCurve.strength_for``."""

    kind = "strengths_for"


class CurveComparison(Result):
    """Curves compared: one form, one place, and how far apart they lie. Made by ``StrengthCurve.compare``."""

    kind = "curve_comparison"


class StrengthCurve(Result):
    """The strength curves of a trial. Made by ``trial.strength_curve``.

    Strengths are in the unit of the trial, takes and limits of takes are proportions.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "rootstock"], tray="tray", block="bench",
    ...                       strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
    >>> curve = trial.strength_curve(at={"rootstock": "K12"})
    >>> curve.best_strength.located
    'located'
    """

    kind = "strength_curve"

    @property
    def best_strength(self) -> Figures:
        """The best strength of the one curve; with several curves, theirs by name.

        ``strength`` (value, conf_low, conf_high, open_low, open_high), ``located``, ``take``, ``take_low``,
        ``take_high``, ``range_low`` and ``range_high`` (not shown to be worse than the best by more than the margin),
        ``adequate`` (lowest strength with the wanted share of the best take) and, where trials were drawn,
        ``bootstrap``.
        """
        found = {curve.name: curve.best for curve in self.curves}
        return next(iter(found.values())) if len(found) == 1 else Figures(found)

    def shapes(self) -> pl.DataFrame:
        """One row per curve and shape: weight, its say in the averages, criterion, lack of fit, verdict.

        The hump comes with several ``d0``. Shapes left out have no weight; those that the strengths' own rates
        contradict (``lack_p_value`` below 0.01) have no say.
        """
        import polars as pl

        rows: list[dict[str, Any]] = []
        for curve in self.curves:
            for fit in curve.shapes:
                rows.append({"curve": curve.name, **{name: fit[name] for name in SHAPE_FIGURES}})
            for out in curve.out:
                rows.append({"curve": curve.name, "shape": out.shape, "verdict": "left out", "reason": out.why})
        names = ("curve", *SHAPE_FIGURES)
        kinds: dict[str, Any] = {name: pl.Float64 if name in SHAPE_NUMBERS else pl.String for name in names}
        return pl.DataFrame(rows, schema=kinds)

    def parameters(self) -> pl.DataFrame:
        """One row per curve, shape and parameter, in plain names with units."""
        import polars as pl

        rows = [
            (curve.name, fit.shape, one.name, one.value, one.unit)
            for curve in self.curves
            for fit in curve.shapes
            for one in fit.parameters
        ]
        kinds: dict[str, Any] = {
            "curve": pl.String,
            "shape": pl.String,
            "parameter": pl.String,
            "value": pl.Float64,
            "unit": pl.String,
        }
        return pl.DataFrame(rows, schema=kinds, orient="row")

    def levels(self) -> pl.DataFrame:
        """One row per curve and strength: counts, take with limits, the curve, and the fits without any curve."""
        import polars as pl

        rows = [{"curve": curve.name, **dict(one)} for curve in self.curves for one in curve.strengths]
        return pl.DataFrame(rows)

    def _asked(self) -> tuple[dict[str, Any], str | None]:
        return self.to_dict()["input"], self.provenance["data_fingerprint"]

    def strength_for(self, take: float) -> StrengthsFor:
        """The lowest strength with this take, with profile, delta and (where the line is straight) Fieller limits.

        Parameters
        ----------
        take : float
            The wanted take rate, a proportion between 0 and 1.

        Returns
        -------
        StrengthsFor
            One row per curve and method; an upper limit is infinite where the take may never be reached.

        Raises
        ------
        CountError
            Unless ``0 < take < 1``.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench")
        >>> curve = trial.strength_curve(at={"rootstock": "K12"})
        >>> curve.strength_for(0.50).rows[0].method
        'profile'
        """
        data, fingerprint = self._asked()
        return StrengthsFor(_core.dose.strengths_for(data, fingerprint, take), self._context)

    def compare(self) -> CurveComparison:
        """Whether the curves have one form and one place, and how far each lies from the first.

        All curves are fitted with the shape of the smallest sum of Akaike's criteria. "same form" sets own parameters
        against one form at different places (parallel curves), "same curve" different places against one curve, "no
        difference" own parameters against one curve. For shapes along ``log d`` the distance is a relative potency.

        Returns
        -------
        CurveComparison

        Raises
        ------
        DoseError
            For a single curve.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench")
        >>> trial.strength_curve(within="rootstock").compare().tests[-1].method
        'no difference'
        """
        return CurveComparison(_core.dose.compare(*self._asked()), self._context)
