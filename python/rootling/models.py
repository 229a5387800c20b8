"""Models of the take rate: effect tests, odds ratios and adjusted rates."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling._results import Figures, Note, Result
from rootling._types import Level
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    from rootling.trial import Trial

__all__ = ["AdjustedRates", "EffectTests", "Model", "OddsRatios"]


class EffectTests(Result):
    """Which treatments matter: one likelihood-ratio test per effect."""

    kind = "effect_tests"


class OddsRatios(Result):
    """Odds ratios with profile-likelihood intervals."""

    kind = "odds_ratios"


class AdjustedRates(Result):
    """Take rates from a model, averaged over the other effects."""

    kind = "adjusted_rates"


class Model:
    """A fitted model of the take rate. Made by ``trial.model``."""

    __slots__ = ("_core", "_trial")
    _core: Any
    _trial: Trial | None

    def __init__(self, core: Any, trial: Trial | None = None) -> None:
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "_trial", trial)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a model cannot be changed; fit another")

    @property
    def figures(self) -> Figures:
        """What the fit holds: verdict, dispersion, likelihood, whether a penalty was used and for which cells."""
        return Figures({name: value for name, value in self._core.record.items() if name not in ("units", "notes")})

    @property
    def sentence(self) -> str:
        """Which effects matter, in plain words."""
        return self.effect_tests().sentence

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, such as ``separation``."""
        return tuple(Note(**note) for note in self._core.record["notes"])

    def effect_tests(self) -> EffectTests:
        """Whether the take rate depends on each effect: one test per effect."""
        return EffectTests(self._core.effect_tests(), {"trial": self._trial})

    def odds_ratios(self, *, level: Level = 0.95) -> OddsRatios:
        """Odds ratios against the first level of each effect, with profile-likelihood intervals.

        Parameters
        ----------
        level : float
            Confidence level, a proportion.
        """
        return OddsRatios(self._core.odds_ratios(level), {"trial": self._trial})

    def adjusted_rates(self, by: str, *, within: str | None = None, level: Level = 0.95) -> AdjustedRates:
        """Take rates per level of a treatment, averaged over the other effects.

        Parameters
        ----------
        by : str
            The treatment.
        within : str, optional
            A second treatment whose levels are kept apart.
        level : float
            Confidence level, a proportion.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> trial.model(["strength", "rootstock"]).adjusted_rates("strength").table().height
        3
        """
        if within == by:
            raise ChoiceError(f"{by!r} is named twice, in by= and in within=; name two that differ")
        return AdjustedRates(self._core.adjusted_rates(by, within, level), {"trial": self._trial})

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"! {note}" for note in self.notes)])

    def _repr_html_(self) -> str:
        from html import escape

        notes = "".join(f"<li>{escape(str(note))}</li>" for note in self.notes)
        return f"<div class='rootling-result'><p><strong>{escape(self.sentence)}</strong></p><ul>{notes}</ul></div>"
