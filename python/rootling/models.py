"""Models of the take rate: effect tests, odds ratios and adjusted rates."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core, _frames
from rootling._results import Figures, Note, Result, copy_record, read_record, write_record
from rootling._types import Level, RateOf
from rootling.diagnostics import Diagnostics
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

    from rootling.trial import Trial

__all__ = [
    "AdjustedRates",
    "BootstrapTest",
    "EffectTests",
    "Model",
    "ModelComparison",
    "OddsRatios",
    "Predictions",
]


class EffectTests(Result):
    """Which treatments matter: one likelihood-ratio test per effect."""

    kind = "effect_tests"


class OddsRatios(Result):
    """Odds ratios with profile-likelihood intervals."""

    kind = "odds_ratios"


class AdjustedRates(Result):
    """Take rates from a model, averaged over the other effects."""

    kind = "adjusted_rates"


class Predictions(Result):
    """Take rates that a model expects of new rows."""

    kind = "predictions"


class ModelComparison(Result):
    """A model against a smaller one that it contains."""

    kind = "model_comparison"


class BootstrapTest(Result):
    """The test of an effect by parametric bootstrap."""

    kind = "bootstrap_test"


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
        return Figures({name: value for name, value in self._core.record.items() if name not in ("units", "notes")})

    @property
    def sentence(self) -> str:
        """Which effects matter, in plain words."""
        return self.effect_tests().sentence

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, such as ``separation``."""
        return tuple(Note(**note) for note in self._core.record["notes"])

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

    def predict(
        self,
        frame: Any,
        *,
        level: Level = 0.95,
        of: RateOf = "population",
        new_tray: int | None = None,
    ) -> Predictions:
        """The take rate that the model expects of new rows, with intervals.

        Parameters
        ----------
        frame
            The rows: a path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of
            columns. Every effect of the model needs its column; a block may be left out and is then averaged over.
        level : float
            Confidence level, a proportion.
        of : {"population", "typical-tray"}
            With random trays: the share rooted over all trays, or the rate of a tray whose random effects are 0. Other
            models have only the first.
        new_tray : int, optional
            Cuttings of a tray still to be set; its count gets a range too (``tray_low``, ``tray_high``): beta-binomial
            quantiles that allow for the spread between trays and for the rate being estimated.

        Returns
        -------
        Predictions

        Raises
        ------
        TrialDataError
            For a missing column, a level that the model does not know or an entry that is no number, with its row.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> model = trial.model(["strength", "rootstock"])
        >>> model.predict({"strength": [2500], "rootstock": ["K12"]}, new_tray=20).table().height
        1
        """
        given = _frames.read(frame, self._core.columns)
        rows = given.frame if given.text is None else given.text
        options = {"level": level, "of": of, "new_tray": new_tray}
        return Predictions(self._core.predict(rows, options), {"trial": self._trial})

    def diagnostics(self, *, seed: int = 1, groups: int = 10, refit: bool | None = None) -> Diagnostics:
        """Whether the model holds: residuals, leverage and influence of every tray, fit, calibration and link.

        Parameters
        ----------
        seed : int
            Seed of the randomised quantile residuals.
        groups : int
            Groups of the calibration, and of the Hosmer-Lemeshow test where rows are single cuttings, 3 to 100.
        refit : bool, optional
            Fit the model without each tray in turn. Left out: with at most 300 trays.

        Returns
        -------
        Diagnostics
            See :class:`rootling.diagnostics.Diagnostics`.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.model(["strength"]).diagnostics().table().height
        12
        """
        options = {"seed": seed, "groups": groups, "refit": refit}
        return Diagnostics(self._core.diagnostics(options), {"trial": self._trial})

    def against(self, smaller: Model) -> ModelComparison:
        """What this model adds to a smaller one of the same trial.

        Parameters
        ----------
        smaller : Model
            A model whose effects are contained in this one's: by name, or because its columns are combinations of this
            one's, as a straight line is of levels. Same counts, link and ``trays=``.

        Returns
        -------
        ModelComparison
            The likelihood-ratio or F test, with AIC, AICc and BIC of both where they have a likelihood.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> trial.model(["strength", "rootstock"]).against(trial.model("strength")).added
        ('rootstock',)
        """
        if not isinstance(smaller, Model):
            raise ChoiceError(f"{type(smaller).__name__!r} is not a model; give one made by trial.model(...)")
        return ModelComparison(self._core.against(smaller._core), {"trial": self._trial})

    def bootstrap_test(
        self,
        effect: str,
        *,
        draws: int = 999,
        seed: int = 1,
        progress: Callable[[int, int], object] | None = None,
    ) -> BootstrapTest:
        """Tests an effect by drawing trials from the model without it (parametric bootstrap).

        Parameters
        ----------
        effect : str
            One of the effects, or an interaction as ``"strength x rootstock"``.
        draws : int
            Trials to draw, 99 to 1,000,000.
        seed : int
            Seed; the number of threads makes no difference.
        progress : callable, optional
            Called about ten times a second with the draws done and the draws in all, for example to move a progress bar.

        Returns
        -------
        BootstrapTest
            With ``p_value`` = (1 + exceeded) / (draws + 1) and its ``monte_carlo_error``.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.model("strength").bootstrap_test("strength", draws=199).draws
        199
        """
        options = {"draws": draws, "seed": seed}
        return BootstrapTest(self._core.bootstrap_test(effect, options, progress), {"trial": self._trial})

    def __repr__(self) -> str:
        return "\n".join([self.sentence, *(f"! {note}" for note in self.notes)])

    def _repr_html_(self) -> str:
        from html import escape

        notes = "".join(f"<li>{escape(str(note))}</li>" for note in self.notes)
        return f"<div class='rootling-result'><p><strong>{escape(self.sentence)}</strong></p><ul>{notes}</ul></div>"
