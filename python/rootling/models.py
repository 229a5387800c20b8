"""Models of the take rate: effect tests, odds ratios and adjusted rates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._results import Figures, Note, Result, copy_record, read_record, write_record
from rootling._types import Level
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

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
    kind = "model"
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
        return Figures({name: value for name, value in self._core.summary.items() if name != "notes"})

    @property
    def verdict(self) -> str:
        """In one line whether the model could be fitted: "fitted", or "fitted with caution" and why."""
        record = self._core.summary["convergence"]
        return str(record["verdict"]) if record["reason"] is None else f"{record['verdict']}: {record['reason']}"

    @property
    def fit_record(self) -> Figures:
        """How the fit was found: start values, steps, tolerance, largest gradient, condition, rank, verdict and reason.

        Start values and gradient are those of covariates centred at their mean and divided by their largest distance
        from it.
        """
        return Figures(self._core.summary["convergence"])

    @property
    def sentence(self) -> str:
        """Which effects matter, in plain words."""
        return self.effect_tests().sentence

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, such as ``separation``."""
        return tuple(Note(**note) for note in self._core.summary["notes"])

    @property
    def methods(self) -> str:
        """The paragraph for a methods section."""
        return str(self._core.methods)

    @property
    def references(self) -> tuple[str, ...]:
        """Works cited."""
        return tuple(self._core.references)

    @property
    def provenance(self) -> Figures:
        """Version, options and data fingerprint."""
        return self.effect_tests().provenance

    def table(self) -> pl.DataFrame:
        """One row per effect: its test and how large a difference it makes."""
        return self.effect_tests().table()

    def plot(self) -> Figure:
        """A matplotlib figure of the effects."""
        return self.effect_tests().plot()

    def to_dict(self) -> dict[str, Any]:
        """The record as plain dictionaries, lists and values: what was asked, the counts per unit, and the fit."""
        record = {"kind": self.kind, "data_fingerprint": self._core.fingerprint, **self._core.record}
        return copy_record(record)  # type: ignore[no-any-return]

    def to_json(self, indent: int | None = None) -> str:
        """The record as JSON. Infinite numbers are written as ``"inf"`` and ``"-inf"``; ``non_finite`` lists where."""
        return write_record(self.to_dict(), indent)

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> Model:
        """The model of a record: the same specification is fitted to the same counts again."""
        missing = [name for name in ("units", "spec", "data_fingerprint") if name not in record]
        if record.get("kind") != cls.kind or missing:
            raise ChoiceError("this is not the record of a model; Model.to_dict makes one")
        return cls(_core.models.restore(dict(record), str(record["data_fingerprint"])))

    @classmethod
    def from_json(cls, text: str) -> Model:
        """The model of a record written by :meth:`to_json`.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> model = trial.model(["strength", "rootstock"])
        >>> rl.models.Model.from_json(model.to_json()) == model
        True
        """
        return cls.from_dict(read_record(text))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Model) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(self.to_json())

    def __reduce__(self) -> Any:
        return Model.from_dict, (self.to_dict(),)

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
