"""Models of the take rate: effect tests, odds ratios, coefficients, adjusted rates, contrasts and letters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._after_fit import AfterFit
from rootling._checks import BootstrapTest, Checks, ModelComparison, Predictions
from rootling._effects import (
    AdjustedRates,
    Coefficients,
    Contrasts,
    Letters,
    OddsRatios,
    WhatMatters,
    averaged,
    held,
    weighted,
)
from rootling._given import UNREAD, spelled
from rootling._given.choices import (
    AverageOver,
    Confidence,
    ContrastAdjustment,
    ContrastPattern,
    EffectTestKind,
    LetterOrder,
    RateOf,
    RateScale,
)
from rootling._results import Note, Numbers, check_depth, copy_record, read_record, write_record
from rootling.exceptions import ChoiceError, RootlingError

if TYPE_CHECKING:
    import polars as pl
    from matplotlib.figure import Figure

    from rootling.trial import Trial

__all__ = ["AdjustedRates", "BootstrapTest", "Checks", "Coefficients", "Contrasts", "Letters", "Model"]
__all__ += ["ModelComparison", "OddsRatios", "Predictions", "WhatMatters"]


class Model(AfterFit):
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
    def numbers(self) -> Numbers:
        """What the fit holds: verdict, dispersion, likelihood, whether a penalty was used and for which cells."""
        return Numbers({name: value for name, value in self._core.summary.items() if name != "notes"})

    @property
    def verdict(self) -> str:
        """In one line whether the model could be fitted: "fitted", or "fitted with caution" and why."""
        record = self._core.summary["convergence"]
        return str(record["verdict"]) if record["reason"] is None else f"{record['verdict']}: {record['reason']}"

    @property
    def how_fitted(self) -> Numbers:
        """How the fit was found: start values, steps, tolerance, largest gradient, condition, rank, verdict and reason.

        Start values and gradient are of covariates centred at their mean and divided by their largest distance from it.
        """
        return Numbers(self._core.summary["convergence"])

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
        import polars as pl

        types = {"of": pl.String, "level": pl.String, "measure": pl.String, "n_levels": pl.UInt64}
        names = ("value", "se", "low", "high", "latent_icc", "score", "df")
        schema = {**types, **dict.fromkeys(names, pl.Float64)}
        return pl.DataFrame(self._core.summary["spread"], schema=schema)

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
        return str(self._core.methods)

    @property
    def references(self) -> tuple[str, ...]:
        """Works cited."""
        return tuple(self._core.references)

    @property
    def made_with(self) -> Numbers:
        """Version, options and data fingerprint."""
        return self.what_matters().made_with

    def table(self) -> pl.DataFrame:
        """One row per effect: its test and how large a difference it makes."""
        return self.what_matters().table()

    def plot(self) -> Figure:
        """A figure of the effects."""
        return self.what_matters().plot()

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
        known = isinstance(record, Mapping) and {"units", "spec", "data_fingerprint"} <= record.keys()
        if not known or record.get("kind") != cls.kind:
            raise ChoiceError("this is not the record of a model; Model.to_dict makes one")
        check_depth(record)
        try:
            return cls(_core.models.restore(dict(record), str(record["data_fingerprint"])))
        except ChoiceError as error:
            if UNREAD not in str(error):
                raise
            what = "its counts or what was asked of them are not as to_dict() writes them; take it again from there"
            raise ChoiceError(f"this is not the record of a model: {what}") from None

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

    def what_matters(self, *, test: EffectTestKind = "auto") -> WhatMatters:
        """Whether the take rate depends on each effect: one test per effect.

        Parameters
        ----------
        test : {"auto", "likelihood-ratio", "score", "small-sample-score", "wald"}
            The statistic. Left to the model it is the one whose false alarms were simulated: the small-sample score of
            effective cuttings where trays are counted, the likelihood ratio otherwise. Wald's misleads near 0 and 100 %
            (Hauck and Donner 1977). Where trays give an error, each is held against F; an effect constant within a
            recorded unit above the tray (bay, block, season, stock plant) against that unit.

        Raises
        ------
        rootling.exceptions.ModelError
            When the model has no such statistic: ``trays="random"`` and ``"beta-binomial"`` have likelihood ratios
            only, ``trays="robust"`` Wald's only.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> model = trial.model("strength")
        >>> model.what_matters(test="wald").table()["test"].to_list()
        ['Wald as F']
        """
        options = {"test": None if test == "auto" else test}
        return WhatMatters(self._core.what_matters(options), self._shown_with())

    def odds_ratios(self, *, confidence: Confidence = 0.95) -> OddsRatios:
        """Odds ratios against the first level of each effect, with intervals by the score or the likelihood profile.

        The other effects are held alike (conditional). ``contrasts(scale="odds")`` gives ratios of the odds of rates
        averaged over them, which lie nearer to 1.

        With an interaction the odds ratios of an effect inside it hold at the reference level of the other one alone,
        and their names say so: "strength 4000 against 0, at rootstock K12". ``contrasts(scale="odds", within=...)``
        gives those of every level.

        Parameters
        ----------
        confidence : float
            Confidence level, a proportion.
        """
        return OddsRatios(self._core.odds_ratios(confidence), self._shown_with())

    def coefficients(self, *, confidence: Confidence = 0.95) -> Coefficients:
        """Every coefficient on the scale of the link, for any link, with intervals by the score or the profile.

        For trees per 100 read the adjusted rates; this is what a table of a manuscript or another calculation needs.

        Parameters
        ----------
        confidence : float
            Confidence level, a proportion.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.model("strength", link="probit").coefficients().table()["coefficient"].to_list()[-1]
        'strength 5000'
        """
        return Coefficients(self._core.coefficients(confidence), self._shown_with())

    def adjusted_rates(
        self,
        treatment: str,
        *,
        within: str | None = None,
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        rate_of: RateOf = "all-trays",
        confidence: Confidence = 0.95,
    ) -> AdjustedRates:
        """Take rates per level of a treatment, averaged over the other effects.

        Parameters
        ----------
        treatment : str
            The treatment.
        within : str, optional
            A second treatment whose levels are kept apart.
        at : dict, optional
            Treatments and covariates held at a value, for example ``{"rootstock": "K12"}``; covariates are at their
            mean otherwise. A value beyond the tested range is noted.
        average : {"alike", "as-stuck"} or dict
            How the other treatments are averaged over: all combinations alike, by their share of the cuttings stuck,
            or by shares of your own, for example ``{"rootstock": {"K12": 0.6, "K17": 0.3, "K30": 0.1}}``. Shares are
            scaled to sum to 1; every level needs one. Combinations that nothing tells of are left out, with a note.
        rate_of : {"all-trays", "typical-tray"}
            Where trays have random effects: the rate over all trays, or that of a tray in the middle. They differ.
        confidence : float
            Confidence level, a proportion.

        Raises
        ------
        rootling.exceptions.ChoiceError
            For an unknown treatment or level (the nearest is named), a level without trays, a mix that leaves out a
            level.

        Notes
        -----
        Print these to set levels beside each other: what lies unevenly over them is taken out, so they need not be the
        rates as counted. Those of ``trial.take_rates`` say what was there, the mix with it; print them beside counts.

        Limits stay between 0 and 100 %: they come from the delta method on the logit scale (Lane and Nelder 1982).
        Where none of a level's cuttings did the lower limit is 0, where all did the upper one is 100 %: a count of 0
        cannot rule out 0.

        Rates hold over further blocks and seasons like those of the trial, as those of ``trial.take_rates`` do
        (``holds_over``): how blocks differ is part of their limits, with few degrees of freedom where there are few
        blocks. Contrasts and letters compare within blocks and are no wider for it. A block that is asked for, held by
        ``at=`` or given shares is meant itself (``holds_at``), and where trays enter by another law than ``"auto"``
        rates hold for the blocks at hand; a note says which.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> rates = trial.model(["strength", "rootstock"]).adjusted_rates("strength")
        >>> rates.table().height, rates.holds_over
        (3, ('bench',))
        """
        options = {"within": within, "at": held(at), "average": averaged(average)}
        options |= {"rate_of": rate_of, "confidence": confidence}
        return AdjustedRates(self._core.adjusted_rates(treatment, options), self._shown_with())

    def contrasts(
        self,
        treatment: str,
        *,
        against: Any = None,
        pattern: ContrastPattern = "all-pairs",
        within: str | None = None,
        changing_with: str | None = None,
        scale: RateScale = "points",
        together: ContrastAdjustment = "joint",
        margin: float | None = None,
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        rate_of: RateOf = "all-trays",
        confidence: Confidence = 0.95,
        seed: int = 1,
    ) -> Contrasts:
        """Levels of a treatment set against each other: differences in trees per 100 with intervals that hold together.

        Parameters
        ----------
        treatment : str
            The treatment.
        against : level, optional
            The level that all others are set against; ``"control"`` for the trial's control (else strength 0, else the
            model's reference).
        pattern : {"all-pairs", "control", "steps", "trend"} or dict
            All pairs; all against one; each against the one before; the change from the lowest to the highest level
            along a straight line. Or weights per level that sum to 0, for example ``{0: -1, 2500: 0.5, 5000: 0.5}``;
            several such under names: ``{"any hormone": {...}, "strong": {...}}``.
        within : str, optional
            A second treatment: the contrasts are formed within each of its levels. All of them are one family.
        changing_with : str, optional
            A second treatment: how contrasts change between its levels. The model needs the interaction of the two.
        scale : {"points", "ratio", "odds"}
            Differences, ratios of rates, or odds ratios. Of two rates "no difference" is one hypothesis on all three,
            with one P value. With ``changing_with``, weights or ``pattern="trend"`` each scale is a question of its
            own: differences may change where odds ratios do not. Odds ratios are of rates averaged over the other
            treatments; :meth:`odds_ratios` holds the others alike and lies further from 1.
        together : str
            ``"joint"``, ``"tukey-kramer"``, ``"dunnett"`` and ``"scheffe"`` go in one step: an interval leaves out no
            difference exactly where the adjusted P value is below 1 - confidence. ``"holm"``, ``"hochberg"``,
            ``"hommel"``, ``"sidak-step-down"``, ``"benjamini-hochberg"`` and ``"benjamini-yekutieli"`` go by steps and
            come with Bonferroni's (or Sidak's) intervals; ``"none"`` is noted.
        margin : float, optional
            Contrasts whose interval lies within it are shown to be equivalent: a proportion (0.1 is 10 trees per
            100), or a factor above 1 for ratios.
        at, average, rate_of
            As in :meth:`adjusted_rates`.
        confidence : float
            Confidence level of all intervals together.
        seed : int
            Seed of the quasi-random points of the joint distribution.

        Returns
        -------
        Contrasts
            ``value``, ``low``, ``high`` are proportions on the scale of points: 0.12 is 12 trees per 100. A
            ratio without a bound has the limit 0 or infinity; what is not available is None, with the reason in
            ``why``. ``statistic_is`` names what the statistic is held against.

        Raises
        ------
        rootling.exceptions.ChoiceError
            For unknown names (the nearest is named), weights that do not sum to 0, methods that do not suit the family,
            more contrasts than make sense, changes with a treatment of which the model has no interaction.

        Notes
        -----
        With trays (the default) each contrast is judged by its score where it is held at 0, which for two levels is
        the effect test, and its limits are where the score meets the critical value; otherwise by its likelihood
        ratio over the dispersion and the likelihood profile (Miettinen and Nurminen 1985; Venzon and Moolgavkar 1988;
        Hothorn, Bretz and Westfall 2008).

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> model = trial.model(["strength", "rootstock"])
        >>> model.contrasts("strength", against="control").table()["comparison"].to_list()
        ['strength 2500 against 0', 'strength 5000 against 0']
        """
        options = {
            "against": None if against is None else spelled(against),
            "pattern": weighted(pattern),
            "within": within,
            "changing_with": changing_with,
            "scale": scale,
            "together": str(together),
            "margin": margin,
            "at": held(at),
            "average": averaged(average),
            "rate_of": rate_of,
            "confidence": confidence,
            "seed": seed,
        }
        return Contrasts(self._core.contrasts(treatment, options), self._shown_with())

    def letters(
        self,
        treatment: str,
        *,
        within: str | None = None,
        order: LetterOrder = "descending",
        together: ContrastAdjustment = "joint",
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        rate_of: RateOf = "all-trays",
        confidence: Confidence = 0.95,
        seed: int = 1,
    ) -> Letters:
        """Adjusted rates with letters: two levels share a letter if and only if they are not shown to differ.

        A shared letter is no proof of equality. For a strength axis a curve says more.

        Parameters
        ----------
        treatment : str
            The treatment.
        within : str, optional
            A second treatment within whose levels letters are given.
        order : {"descending", "ascending"}
            Whether ``a`` goes to the highest or to the lowest rate.
        together : str
            As in :meth:`contrasts`, of all pairs.
        at, average, rate_of, seed
            As in :meth:`contrasts`.
        confidence : float
            Confidence level of each interval, and of all comparisons together.

        Returns
        -------
        Letters
            One row per level: rate, interval, letters, counts.

        Raises
        ------
        rootling.exceptions.ChoiceError
            As for :meth:`contrasts`.

        Notes
        -----
        The fewest letters are found (Piepho 2004; Gramm and others 2008).

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> trial.model(["strength", "rootstock"]).letters("rootstock").table()["letters"].to_list()
        ['ab', 'a', 'b']
        """
        options = {
            "within": within,
            "order": order,
            "together": str(together),
            "at": held(at),
            "average": averaged(average),
            "rate_of": rate_of,
            "confidence": confidence,
            "seed": seed,
        }
        return Letters(self._core.letters(treatment, options), self._shown_with())

    def __repr__(self) -> str:
        return "\n".join([self._said(), *(f"! {note.text}" for note in self.notes)])

    def _said(self) -> str:
        """The sentence; why there is none where effects cannot be tested."""
        try:
            return self.sentence
        except RootlingError as error:
            return f"A fitted model without tests of its effects: {error}"

    def _repr_html_(self) -> str:
        from html import escape

        notes = "".join(f"<li>{escape(note.text)}</li>" for note in self.notes)
        return f"<div class='rootling-result'><p><strong>{escape(self._said())}</strong></p><ul>{notes}</ul></div>"
