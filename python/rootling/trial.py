"""A loaded trial, and the questions that can be asked of it."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._callers import callers_level
from rootling._given import listed, spelled
from rootling._given.choices import Adjustment, AssociationMethod, Confidence, CorrelationMethod, Outcome, Trays
from rootling._given_levels import one_treatment
from rootling._model_questions import ModelQuestions
from rootling._results import Note, Numbers
from rootling._set_aside import SetAside, count_of_rows
from rootling._strength_curve import StrengthQuestions
from rootling._words import clean, outcomes
from rootling.compare import AllComparisons, Comparison
from rootling.exceptions import ChoiceError, FewTraysWarning, Issue, StrengthWarning
from rootling.rates import TakeRates, TrayCorrelation
from rootling.tables import Association, Trend

if TYPE_CHECKING:
    import polars as pl

__all__ = ["Design", "Trial"]


def _apart(first: str, second: str | None, what: str) -> None:
    """Nothing can be compared with itself, or be kept apart by itself."""
    if first == second:
        raise ChoiceError(f"{first!r} is named twice as {what}; name two that differ")


class Design(Numbers):
    """The design as recorded: the unit, balance, nesting, and what cannot be tested."""

    __slots__ = ()

    def __repr__(self) -> str:
        return "\n".join(map(clean, [self["sentence"], *(f"- {line}" for line in self["lines"])]))

    def __reduce__(self) -> Any:
        return Design, (dict(self._items),)


class Trial(ModelQuestions, StrengthQuestions):
    """A checked trial. Made by :func:`rootling.load_trial`; never changed afterwards."""

    __slots__ = ("_core",)
    _core: Any

    def __init__(self, core: Any) -> None:
        object.__setattr__(self, "_core", core)
        for note in self.notes:
            kind = StrengthWarning if "strength" in note.code else FewTraysWarning if "few" in note.code else None
            if kind is not None:
                warnings.warn(note.text, kind, stacklevel=callers_level())

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a trial cannot be changed; load it again")

    def __reduce__(self) -> Any:
        from rootling._loading import again

        return again, (self.frame, self._core.source, self._core.options)

    @property
    def issues(self) -> tuple[Issue, ...]:
        """Everything found while checking."""
        return tuple(Issue(**issue) for issue in self._core.issues)

    @property
    def set_aside(self) -> SetAside:
        """The rows that do not enter any analysis, each with its reason: a tuple of issues, shown as a table."""
        return SetAside(Issue(**issue) for issue in self._core.set_aside)

    @property
    def design(self) -> Design:
        """What the recorded columns say about the design."""
        return Design(self._core.design)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Cautions about the design and the strengths."""
        return tuple(Note(**note) for note in self._core.notes)

    @property
    def fingerprint(self) -> str:
        """A short hash of the counts and their design; the order of rows does not matter."""
        return str(self._core.fingerprint)

    def for_later(self) -> dict[str, Any]:
        """How the trays of this trial differ, and the units above them: a record for ``earlier=`` of a later trial.

        Returns
        -------
        dict
            ``trials``, the fingerprint of this one, and ``known``, one entry per kind of unit: its column, the part it
            plays, its mean square over the variance of one cutting, what it is without a difference between units,
            cuttings per unit, degrees of freedom.

        Raises
        ------
        TrialDataError
            Where no trays are recorded, or no two trays were treated alike.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> [known["unit"] for known in trial.for_later()["known"] if not known["totals"]]
        ['tray', 'bench']
        """
        return dict(self._core.for_later())

    @property
    def frame(self) -> pl.DataFrame:
        """The table as it was given; of a long one the columns that were used. A copy."""
        import polars as pl

        return pl.DataFrame(self._core)

    def tray_counts(self) -> pl.DataFrame:
        """One row per unit (tray) that enters: its treatments, its place, ``rooted`` and ``stuck``.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.tray_counts()["stuck"].sum()
        240
        """
        return outcomes.counts(self, "take")

    def _unit_of(self, column: str) -> str | None:
        """Unit, substance and method of the declared strength, when this is its column."""
        options = self._core.options
        named = options["strength_column"] or "strength"
        known = options["strength"] if column == named else None
        return None if known is None else "{unit} {substance} ({method})".format(**known).replace(" (None)", "")

    def take_rates(
        self,
        by: str | Sequence[str] | None = None,
        *,
        confidence: Confidence = 0.95,
        method: str | None = None,
        trays: Trays = "auto",
        outcome: Outcome = "take",
    ) -> TakeRates:
        """Take rates (rooted of stuck) with intervals.

        Parameters
        ----------
        by : str or list of str, optional
            Columns whose levels get a rate each; all treatments when left out. An empty list is refused: one rate over
            different treatments answers no question.
        confidence : float
            Confidence level, a proportion.
        method : str, optional
            Interval for pooled cuttings; with trays the tray-aware interval is the default.
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        outcome : {"take", "survival", "rooted-of-survivors"}
            What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
            lived. The two others stand in the details.

        Returns
        -------
        TakeRates
            ``rates``, one for each combination; ``layers``, the seasons, blocks, whole plots and stock plants that the
            rates are to hold over, each with the correlation of its trays; ``df``, the degrees of freedom of each
            interval.

        Notes
        -----
        These are the rates as counted: what was there. Where the levels hold other treatments in different shares
        (``uneven_mix``) part of what parts them is that mix; to compare levels print ``model.adjusted_rates``.

        Trays of one place or plant share its luck, so every recorded place enters, with degrees of freedom after
        Satterthwaite. A place named in ``by`` is asked for by itself. Where each level was in a single place the
        intervals hold for that place, and the note ``single_place`` says so.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.take_rates(by="strength").table().height
        2
        """
        if by is not None and not listed(by):
            raise ChoiceError("by names no column; leave it out for every combination of treatments")
        options = {"confidence": confidence, "method": method, "trays": trays, "outcome": outcome}
        return TakeRates(
            _core.rates.take_rates(self._core, list(dict.fromkeys(listed(by))), options), self._shown_with()
        )

    def compare(
        self,
        treatment: str,
        first: Any,
        second: Any,
        *,
        at: Mapping[str, Any] | None = None,
        margin: float | None = None,
        confidence: Confidence = 0.95,
        method: str | None = None,
        trays: Trays = "auto",
        seed: int = 1,
        nearly: float = 0.10,
        outcome: Outcome = "take",
    ) -> Comparison:
        """Compares two levels of a treatment, tray by tray where trays are recorded.

        A treatment that does not change within any level of a recorded column (season, block, whole plot, stock plant)
        was given to these as a whole and is judged against them; places within which it changes are strata.

        Other treatments that ``at`` does not fix are asked whether the difference changes with them, by a model of the
        same trays; where it does (P below 0.05, after Holm) decision and note ``differs_between_levels`` say so.

        Parameters
        ----------
        treatment : str
            The treatment.
        first, second
            Its two levels; the difference is second minus first.
        at : dict, optional
            Levels of other treatments to stay within, for example ``{"rootstock": "K12"}``.
        margin : float, optional
            Difference in take rate (a proportion) that would not matter, for a claim of equivalence.
        confidence : float
            Confidence level.
        method : str, optional
            Interval for the difference of pooled cuttings.
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        seed : int
            Seed of the randomisation test when it has to draw.
        nearly : float
            The difference that matters, a proportion: 0.10 is ten trees per 100. By it the sentence says "no reason to
            change", and it asks for as many trays as narrow the interval to that much either way.
        outcome : {"take", "survival", "rooted-of-survivors"}
            What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
            lived. The two others stand in the details.

        Returns
        -------
        Comparison
            ``unit`` and ``judged_by``, what the difference is judged by; ``carried``, how many units of either level
            lie in strata that hold both, with the strata used and left out; ``withheld``, why there is no test where
            there is none; ``follows_time``, the season or block over which the levels follow one another.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.compare("strength", 2500, 5000).kind
        'comparison'
        """
        _apart(spelled(first), spelled(second), f"level of {treatment}")
        options = {
            "at": self._at(at),
            "margin": margin,
            "confidence": confidence,
            "method": method,
            "trays": trays,
            "seed": seed,
            "nearly": nearly,
            "outcome": outcome,
        }
        return Comparison(
            _core.compare.strengths(self._core, treatment, spelled(first), spelled(second), options), self._shown_with()
        )

    def compare_all(
        self,
        treatment: str,
        *,
        against: Any = None,
        together: Adjustment = "holm",
        at: Mapping[str, Any] | None = None,
        confidence: Confidence = 0.95,
        trays: Trays = "auto",
        seed: int = 1,
        nearly: float = 0.10,
        outcome: Outcome = "take",
    ) -> AllComparisons:
        """Compares all levels of a treatment, pair by pair or against one; P values and intervals hold together.

        Each pair is what :meth:`compare` makes of it, and the levels together are asked whether their differences
        change with other treatments (``changing``). Intervals are at the single-step level of the adjustment: Sidak's
        for the two Sidak forms, Bonferroni's for the others; with a stepwise adjustment a pair whose adjusted P value
        is small while its interval crosses 0 is not told apart, and its row says both.

        Parameters
        ----------
        treatment : str
            The treatment.
        against : level, optional
            The level that all others are set against, for example 0 for the control; every pair when left out.
        together : str
            As in :func:`rootling.compare.adjusted_p`.
        at : dict, optional
            Levels of other treatments to stay within, for example ``{"rootstock": "K12"}``.
        confidence : float
            Confidence level of all intervals together.
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        seed : int
            Seed of the randomisation tests when they have to draw.
        nearly : float
            The difference that matters, a proportion; trays are asked for that narrow the intervals to that much.
        outcome : {"take", "survival", "rooted-of-survivors"}
            What is counted, in a trial loaded with ``dead=``; as in :meth:`compare`.

        Returns
        -------
        AllComparisons

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.factorial(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "dark_days", "rootstock"], tray="tray", block="bench")
        >>> trial.compare_all("rootstock").table().height
        3
        """
        options = {
            "against": None if against is None else spelled(against),
            "together": together,
            "compare": {
                "at": self._at(at),
                "confidence": confidence,
                "trays": trays,
                "seed": seed,
                "nearly": nearly,
                "outcome": outcome,
            },
        }
        with one_treatment(self, treatment, ("compare_all", "treatment")):
            return AllComparisons(_core.compare.all_levels(self._core, treatment, options), self._shown_with())

    def tray_correlation(
        self, *, method: CorrelationMethod = "anova", confidence: Confidence = 0.95
    ) -> TrayCorrelation:
        """How alike two cuttings of one tray are, pooled over treatments, and what a tray is worth.

        Parameters
        ----------
        method : {"anova", "beta-binomial"}
            Which estimate leads; both are in the table. See :func:`rootling.rates.tray_correlation`.
        confidence : float
            Confidence level.

        Returns
        -------
        TrayCorrelation

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.tray_correlation().n_units
        12
        """
        options = {"confidence": confidence, "method": method}
        return TrayCorrelation(_core.rates.trial_correlation(self._core, options), self._shown_with())

    def association(
        self,
        treatment: str,
        *,
        within: str | None = None,
        trays: Trays = "auto",
        method: AssociationMethod | None = None,
        seed: int = 1,
        outcome: Outcome = "take",
    ) -> Association:
        """Tests a treatment against rooting; trays decide where recorded, places or plants where it was given to these.

        Parameters
        ----------
        treatment : str
            The treatment.
        within : str, optional
            A column whose levels are kept apart.
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        method : str, optional
            The test that leads where trays are counted. With two levels the default is ``"score"``, the test of
            :meth:`compare`, so that one question has one P value. With more it is ``"tray-rates"``, F on tray rates
            within blocks and other treatments: alone among these it kept its false alarms at 2 to 5 % in simulated
            trials.
            ``"randomisation"`` of the same F; ``"donner"``, chi-square with the pooled tray correlation;
            ``"rao-scott"`` (counts divided by each treatment's design effect, Rao and Scott 1992),
            ``"rao-scott-first-order"`` and ``"rao-scott-second-order"`` (Rao and Scott 1984). All are in the table.
        seed : int
            Seed of the randomisation test when it has to draw.
        outcome : {"take", "survival", "rooted-of-survivors"}
            What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
            lived. The two others stand in the details.

        Returns
        -------
        Association
            Among others ``unit`` and ``judged_by``: the unit, and places or plants that cross it and add to the error;
            ``left_out``, those of them that this trial cannot tell of.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial({"planting": ["now", "spring"], "rooted": [156, 84], "stuck": [240, 240]},
        ...                       rooted="rooted", stuck="stuck", treatments="planting")
        >>> trial.association("planting").kind
        'association'
        """
        _apart(treatment, within, "the treatment and the column to stay within")
        options = {"within": within, "trays": trays, "method": method, "seed": seed, "outcome": outcome}
        with one_treatment(self, treatment, ("association", "treatment")):
            return Association(_core.tables.association(self._core, treatment, options), self._shown_with())

    def trend(
        self,
        treatment: str,
        *,
        scores: Mapping[Any, float] | None = None,
        confidence: Confidence = 0.95,
        trays: Trays = "auto",
        seed: int = 1,
        outcome: Outcome = "take",
    ) -> Trend:
        """Does the take rise or fall along the levels of a treatment? Trays decide where they are recorded.

        Parameters
        ----------
        treatment : str
            The treatment, for example the strength.
        scores : dict, optional
            A number for each level; the levels themselves when they are numbers.
        confidence : float
            Confidence level.
        trays : {"auto", "ignore"}
            ``"ignore"`` treats cuttings as independent, and the result is marked.
        seed : int
            Seed of the exact test on cuttings when it has to draw; it stands where trays are not counted.
        outcome : {"take", "survival", "rooted-of-survivors"}
            What is counted, in a trial loaded with ``dead=``: rooted of stuck, alive of stuck, or rooted of those that
            lived. The two others stand in the details.

        Returns
        -------
        Trend

        Notes
        -----
        A trend is a straight line: a hump can pass it unseen, see ``departure``. Its rise and limits stay within 100
        trees per 100 either way; ``cut`` says that the line itself runs further and does not describe the levels.
        ``judged_by`` names the unit, and places or plants that cross it and add to the error.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.trend("strength").unit
        'tray'
        """
        options = {
            "confidence": confidence,
            "scores": None if scores is None else {spelled(name): float(score) for name, score in scores.items()},
            "trays": trays,
            "exact": {"seed": seed},
            "outcome": outcome,
        }
        with one_treatment(self, treatment, ("trend", "treatment")):
            return Trend(_core.tables.trial_trend(self._core, treatment, options), self._shown_with())

    def __repr__(self) -> str:
        lines = [repr(self.design)]
        if self.set_aside:
            rows = (self._core.options.get("shaped") or {}).get("rows") or ()
            lines.append(f"{count_of_rows(self.set_aside, rows)} set aside; see .set_aside")
        return "\n".join([*lines, *(f"! {note.text}" for note in self.notes)])

    def _repr_html_(self) -> str:
        from rootling._words import marked as escape

        lines = "".join(f"<li>{escape(line)}</li>" for line in self.design["lines"])
        notes = "".join(f"<li>{escape(note.text)}</li>" for note in self.notes)
        said = escape(self.design["sentence"])
        return f"<div class='rootling-result'><p><strong>{said}</strong></p><ul>{lines}{notes}</ul></div>"
