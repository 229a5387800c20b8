"""The question of strength, asked of a trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rootling import _core
from rootling._frames import listed, spelled
from rootling._types import Level, Link, Shape, Trays
from rootling.dose import StrengthCurve

__all__ = ["StrengthQuestions"]


class StrengthQuestions:
    """What a trial can be asked about strengths."""

    __slots__ = ()
    _core: Any

    def _shown_with(self) -> dict[str, Any]:
        return {"trial": self}

    def strength_curve(
        self,
        within: str | Sequence[str] | None = None,
        *,
        strength: str | None = None,
        shape: Shape = "auto",
        at: Mapping[str, Any] | None = None,
        link: Link = "logit",
        level: Level = 0.95,
        margin: float = 0.05,
        share: float = 0.95,
        shift: float | None = None,
        trays: Trays = "auto",
        bootstrap: int = 0,
        seed: int = 1,
    ) -> StrengthCurve:
        """How the take follows the strength, where it is best, and how sure that is.

        Strength 0 is a real value. Curves are averaged over shapes unless one is forced, so that choosing a shape adds
        no false certainty. See :class:`rootling.dose.StrengthCurve` for what can be asked of the result.

        Parameters
        ----------
        within : str or list of str, optional
            Columns whose levels get a curve each, for example ``"rootstock"``.
        strength : str, optional
            The treatment that holds the strengths; the declared one when left out.
        shape : str
            ``"auto"`` weighs all but the shapes without natural rooting; a name forces one. See :mod:`rootling.dose`.
        at : dict, optional
            Levels of other treatments to stay within, for example ``{"dark_days": 21}``.
        link : {"logit", "probit", "cloglog", "loglog"}
            Scale of the rising and falling shapes.
        level : float
            Confidence level, a proportion.
        margin : float
            Difference from the best take (a proportion) that still counts as nearly as good.
        share : float
            Share of the best take that is adequate.
        shift : float, optional
            ``d0`` of the axis ``log(1 + d/d0)``, in the unit of the strengths; when left out the lowest strength above
            0 (for the hump a quarter and four times that as well).
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        bootstrap : int
            Trials to draw for bootstrap limits beside those by profile likelihood, for example 2000; none when 0.
        seed : int
            Seed of the drawn trials.

        Returns
        -------
        StrengthCurve

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench",
        ...                       strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
        >>> curve = trial.strength_curve(within="rootstock")
        >>> curve.table().height
        2
        """
        options = {
            "column": strength or self._core.options["strength_column"] or "strength",
            "within": [] if within is None else list(dict.fromkeys(listed(within))),
            "at": {name: spelled(value) for name, value in (at or {}).items()},
            "shape": shape,
            "link": link,
            "level": level,
            "margin": margin,
            "share": share,
            "shift": shift,
            "trays": trays,
            "bootstrap": bootstrap,
            "seed": seed,
        }
        return StrengthCurve(_core.dose.strength_curve(self._core, options), self._shown_with())
