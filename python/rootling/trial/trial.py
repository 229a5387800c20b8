"""A loaded trial: what it knows of itself, and the questions that it can be asked."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._results import Note
from rootling.exceptions import FewTraysWarning, Issue, RootlingWarning, StrengthWarning
from rootling.responses import Response
from rootling.trial import comparing, faces, grading, measured, modelling, rates, strengths, tables
from rootling.trial.about import About
from rootling.trial.callers import callers_level
from rootling.trial.counted import told_of_rows
from rootling.trial.design import Design
from rootling.trial.missing import missing
from rootling.trial.set_aside import SetAside

if TYPE_CHECKING:
    import polars as pl

# Cautions that are warnings when a trial is loaded, by a part of their code.
WARNED: dict[str, type[RootlingWarning]] = {
    "strength": StrengthWarning,
    "fewer_units": RootlingWarning,
    "more_units": RootlingWarning,
    "few": FewTraysWarning,
    "different_ages": RootlingWarning,
}
# Why a row does not enter that is no tray, or of which nobody said what it was.
NO_TRAY = ("left_out", "total_row", "sum_row", "mean_row")


class Trial:
    """A checked trial. Made by :func:`rootling.load_trial`; never changed afterwards."""

    __slots__ = ("_core", "about")
    _core: Any
    about: About

    def __init__(self, core: Any, about: About | None = None) -> None:
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "about", about or About())
        for note in self.notes:
            kind = next((kind for part, kind in WARNED.items() if part in note.code), None)
            if kind is not None:
                warnings.warn(note.text, kind, stacklevel=callers_level())

    def __getattr__(self, name: str) -> Any:
        raise missing(self, name)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a trial cannot be changed; load it again")

    def __reduce__(self) -> Any:
        loaded = (self.frame, self._core.source, self._core.options, self.about)
        return again, (*loaded, _core.grades.reached(self._core))

    @property
    def issues(self) -> tuple[Issue, ...]:
        """Everything found while checking."""
        return tuple(told_of_rows(self._core, self._core.issues))

    @property
    def set_aside(self) -> SetAside:
        """The rows that do not enter any analysis, each with its reason: a tuple of issues, shown as a table."""
        return SetAside(told_of_rows(self._core, self._core.set_aside))

    @property
    def design(self) -> Design:
        """What the recorded columns say about the design."""
        return Design(self._core.design)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Cautions about the design and the strengths, and those that follow from what was told of the trial."""
        own = tuple(Note(**note) for note in self._core.notes)
        if not self.about:
            return own
        told = self.about.notes(self._core.design["n_units"], len(self._lost))
        # Cuttings that stand for no trays are no more than were planned.
        pooled = "cutting" in self._core.design["unit"]
        return own + tuple(one for one in told if not (pooled and one.code == "more_units_than_planned"))

    @property
    def _lost(self) -> list[Issue]:
        """Rows of trays that do not enter; a row that was left out by hand, or that is a sum, need be no tray."""
        declared = self._core.options.get("responses") or []
        columns = {name for one in declared for name in (one["column"], one["means_of"])} - {None}
        return [one for one in self.set_aside if one.code not in NO_TRAY and one.column not in columns]

    @property
    def fingerprint(self) -> str:
        """A short hash of the counts and their design; the order of rows does not matter."""
        return str(self._core.fingerprint)

    @property
    def responses(self) -> dict[str, Response]:
        """What else was measured on cuttings than that they rooted, by column, as declared."""
        return measured.responses(self)

    @property
    def primary(self) -> str:
        """The response that was named to lead; the take where none was."""
        return str(self._core.options.get("primary") or "take")

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
        """The table as it was given; of a long one the columns that were used. A copy.

        Of rows that an engine counted it holds a line for each set that is alike, with how many these are.
        """
        import polars as pl

        return pl.DataFrame(self._core)

    def tray_counts(self) -> pl.DataFrame:
        """One row per unit (tray) that enters: its treatments, its place, ``rooted`` and ``stuck``.

        Of responses the mean over the cuttings that were measured, and how many these are; grades have no mean.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength"], tray="tray", block="bench")
        >>> trial.tray_counts()["stuck"].sum()
        240
        """
        return self._counts("take")

    def _counts(self, outcome: str) -> pl.DataFrame:
        """One row per unit, with what is counted of how many."""
        return faces.counts(self, outcome)

    def _unit_of(self, column: str) -> str | None:
        """Unit, substance and method of the declared strength, when this is its column."""
        return faces.unit_of(self, column)

    # What it is asked: each question stands with its text in a file of its kind.
    take_rates = rates.take_rates
    means = measured.means
    compare = comparing.compare
    compare_all = comparing.compare_all
    tray_correlation = rates.tray_correlation
    association = tables.association
    trend = tables.trend
    model = modelling.model
    strength_curve = strengths.strength_curve
    damage_threshold = strengths.damage_threshold
    response_surface = strengths.response_surface
    grades = grading.grades

    def __repr__(self) -> str:
        return faces.text(self)

    def _repr_html_(self) -> str:
        return faces.html(self)


def again(
    frame: pl.DataFrame,
    source: str,
    options: dict[str, Any],
    about: About | None = None,
    reached: dict[str, Any] | None = None,
) -> Trial:
    """A trial that was pickled: the same columns, checked with the same options; its cautions were given before."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RootlingWarning)
        trial = Trial(_core.trial.from_stream(frame, source, options), about)
    if reached is None:
        return trial
    return grading.reaching(trial, reached["response"], reached["at_least"], reached["of"])
