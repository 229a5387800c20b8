"""A chain of steps: what it knows of itself, and the questions it can be asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given.choices import Confidence, YieldOf
from rootling._results import Note
from rootling.exceptions import Issue
from rootling.steps.results import StartNumbers, StepYields

if TYPE_CHECKING:
    import polars as pl


class Steps:
    """A chain of steps. Made by :func:`rootling.steps.load`; never changed afterwards."""

    __slots__ = ("_core", "_given")
    _core: Any
    _given: tuple[str, tuple[Any, ...]]

    def __init__(self, core: Any, given: tuple[str, tuple[Any, ...]]) -> None:
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "_given", given)

    def __reduce__(self) -> Any:
        return again, self._given

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a chain of steps cannot be changed; load it again")

    @property
    def issues(self) -> tuple[Issue, ...]:
        """Everything found while reading."""
        return tuple(Issue(**issue) for issue in self._core.issues)

    @property
    def set_aside(self) -> tuple[Issue, ...]:
        """Rows that do not enter, each with its reason."""
        return tuple(Issue(**issue) for issue in self._core.set_aside)

    @property
    def notes(self) -> tuple[Note, ...]:
        """Cautions about the record."""
        return tuple(Note(**note) for note in self._core.notes)

    @property
    def columns(self) -> tuple[str, ...]:
        """What was started and each step, by their columns."""
        return tuple(self._core.columns)

    @property
    def fingerprint(self) -> str:
        """A short hash of the batches; the order of rows does not matter."""
        return str(self._core.fingerprint)

    def batches(self) -> pl.DataFrame:
        """One row per batch and step: how many reached it and passed it; a step that a batch is too young for has none.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": ["b1", "b2"], "grafted": [50, 60], "taken": [45, 52], "rooted": [30, None]}
        >>> rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "rooted"]).batches().columns
        ['batch', 'step', 'reached', 'passed']
        """
        import polars as pl

        names = self.columns[1:]
        rows = [
            (one["name"], step, counts["reached"], counts["passed"])
            for one in self._core.batches
            for step, counts in zip(names, one["steps"], strict=True)
            if counts is not None
        ]
        types = {"batch": pl.String, "step": pl.String, "reached": pl.Int64, "passed": pl.Int64}
        return pl.DataFrame(rows, schema=types, orient="row")

    def yields(
        self,
        whose: YieldOf = "followed-cohorts",
        *,
        confidence: Confidence = 0.95,
        draws: int = 999,
        seed: int = 1,
    ) -> StepYields:
        """Takes of all steps and the overall yield: where trees are lost, and what five points at each would bring.

        Parameters
        ----------
        whose : {"followed-cohorts", "current-rates"}
            Batches that were counted at every step, so what became of what was started; or each step at the rate of all
            batches that passed it, so what would become of plants that met every step as it is now.
        confidence : float
            Confidence level, a proportion.
        draws : int
            Sets of batches drawn with replacement that say how often each step costs most.
        seed : int
            Where the draws begin.

        Returns
        -------
        StepYields
            The overall yield ``value`` with limits, and ``steps`` with ``take``, its limits, ``left``, ``lost``,
            ``gain`` and ``most_often``.

        Raises
        ------
        CountError
            With fewer than two batches, or a step that no plant reached.

        Notes
        -----
        Batches are the units: variances and covariances of takes are by linearisation over batches, limits are Wilson's
        on effective plants with t on batches less one. They hold for the seasons of these batches.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 50, 60], "taken": [45, 44, 52]}
        >>> rows["saleable"] = [20, 26, 28]
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "saleable"])
        >>> steps.yields().sentence
        'Saleable costs most: 42 of 100 started; five points there bring 4 more to saleable.'
        """
        options = {"whose": whose, "confidence": confidence, "draws": draws, "seed": seed}
        return StepYields(self._core.yields(options))

    def to_start(
        self, wanted: int, *, assurance: float = 0.95, season_sd: float = 0.0, batch_size: float | None = None
    ) -> StartNumbers:
        """How many plants to start so that at least so many reach the end with this chance.

        Parameters
        ----------
        wanted : int
            Plants wanted at the end.
        assurance : float
            The chance with which they are to be reached, a proportion.
        season_sd : float
            Standard deviation of seasons on the log odds; 0 where a season like those of the record is meant.
        batch_size : float, optional
            Plants of one batch; as in the record when left out.

        Returns
        -------
        StartNumbers
            ``started``, its ``chance``; ``by_yield`` and ``alone``, what the yield alone and plants that stand alone
            would ask for, each with the chance that it really does.

        Raises
        ------
        CountError
            With fewer than two batches followed to the end, a yield of 0 or 1, or a number that cannot be.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": ["b1", "b2", "b3", "b4"], "grafted": [50, 50, 60, 50], "saleable": [20, 26, 28, 24]}
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "saleable"])
        >>> found = steps.to_start(200)
        >>> found.by_yield < found.alone < found.started
        True
        """
        options = {"assurance": assurance, "season_sd": season_sd, "batch_size": batch_size}
        return StartNumbers(self._core.to_start(wanted, options))

    def sure_of(
        self, started: int, *, assurance: float = 0.95, season_sd: float = 0.0, batch_size: float | None = None
    ) -> StartNumbers:
        """How many plants at least reach the end of so many started, with this chance: the inverse of ``to_start``.

        Parameters
        ----------
        started : int
            Plants started.
        assurance, season_sd, batch_size
            As for ``to_start``.

        Returns
        -------
        StartNumbers
            ``wanted``: what reaches the end at least.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": ["b1", "b2", "b3", "b4"], "grafted": [50, 50, 60, 50], "saleable": [20, 26, 28, 24]}
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "saleable"])
        >>> steps.sure_of(steps.to_start(200).started).wanted
        200
        """
        options = {"assurance": assurance, "season_sd": season_sd, "batch_size": batch_size}
        return StartNumbers(self._core.sure_of(started, options))


def again(how: str, given: tuple[Any, ...]) -> Steps:
    """A chain from what was handed to the core: when it is loaded, and when it was pickled."""
    if how == "cells":
        return Steps(_core.steps.read_cells(*given), (how, given))
    if how == "text":
        return Steps(_core.steps.read_csv(*given), (how, given))
    return Steps(_core.steps.from_stream(*given), (how, given))
