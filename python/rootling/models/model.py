"""A fitted model: what it holds, how it is shown and kept, and the questions that it can be asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, cast

from rootling._results import Note, Numbers, copy_record, read_record, write_record
from rootling._words import with_works
from rootling.models import after, effects, faces, levels

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

    from rootling._given.choices import FigureWidth
    from rootling._results import typed
    from rootling.trial import Trial


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

    def _shown_with(self) -> dict[str, Any]:
        return {"trial": self._trial, "units": lambda: self._core.record["units"]}

    @property
    def numbers(self) -> typed.model.Model:
        """What the fit holds: verdict, dispersion, likelihood, whether a penalty was used and for which cells."""
        return cast(
            "typed.model.Model",
            Numbers({name: value for name, value in self._core.summary.items() if name != "notes"}),
        )

    @property
    def verdict(self) -> str:
        """In one line whether the model could be fitted: "fitted", or "fitted with caution" and why."""
        record = self._core.summary["convergence"]
        return str(record["verdict"]) if record["reason"] is None else f"{record['verdict']}: {record['reason']}"

    @property
    def how_fitted(self) -> typed.model.Convergence:
        """How the fit was found: start values, steps, tolerance, largest gradient, condition, rank, verdict and reason.

        Start values and gradient are of covariates centred at their mean and divided by their largest distance from it.
        """
        return cast("typed.model.Convergence", Numbers(self._core.summary["convergence"]))

    @property
    def spread(self) -> pl.DataFrame:
        """How trays, and the groupings they lie in, differ beyond chance: one row each, empty without such a law.

        ``value`` is a standard deviation on the link scale (``trays="random"``) or the correlation of two cuttings of
        one tray (``trays="beta-binomial"``), with its profile limits; ``latent_icc`` the share of a standard deviation
        in the variance on the link scale, which is not that correlation.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> trial.model(["strength"], trays="beta-binomial", correlation_by="strength").spread["level"].to_list()
        ['0', '2500', '5000']
        """
        return faces.spread(self._core)

    @property
    def sentence(self) -> str:
        """Which effects matter, in plain words."""
        return self.what_matters().sentence

    @property
    def notes(self) -> tuple[Note, ...]:
        """Named cautions, such as ``separation``."""
        return tuple(Note(**note) for note in self._core.summary["notes"])

    @property
    def methods(self) -> str:
        """The paragraph for a methods section."""
        return with_works(str(self._core.methods), self.references)

    @property
    def references(self) -> tuple[str, ...]:
        """Works cited."""
        return tuple(self._core.references)

    @property
    def made_with(self) -> typed.shared.MadeWith:
        """Version, options and data fingerprint."""
        return self.what_matters().made_with

    def table(self) -> pl.DataFrame:
        """One row per effect: its test and how large a difference it makes."""
        return self.what_matters().table()

    def plot(self, *, width: FigureWidth | None = None) -> Figure:
        """A figure of the effects.

        Parameters
        ----------
        width : {"85 mm", "180 mm"}, optional
            Set for one column or for two of a journal; as it reads best on a screen when left out.
        """
        return self.what_matters().plot(width=width)

    @property
    def caption(self) -> str:
        """What belongs below the figure: the finding, what the marks are, and how many units stand behind it."""
        return self.what_matters().caption

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
        return cls(faces.restored(record, cls.kind))

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

    # What is asked of it: each question stands with its text in a file of its kind.
    what_matters = effects.what_matters
    odds_ratios = effects.odds_ratios
    coefficients = effects.coefficients
    adjusted_rates = effects.adjusted_rates
    contrasts = levels.contrasts
    letters = levels.letters
    predict = after.predict
    checks = after.checks
    against = after.against
    bootstrap_test = after.bootstrap_test

    def __repr__(self) -> str:
        return faces.text(self)

    def _repr_html_(self) -> str:
        return faces.html(self)
