"""A chain of steps: what it knows of itself, and the questions it can be asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._frames import told_by_rows
from rootling._given import is_name, plain, shortened
from rootling._given.choices import Confidence, YieldOf
from rootling._results import Note
from rootling.exceptions import ChoiceError, CountError, Issue
from rootling.steps.results import StartNumbers, StepYields, YieldComparison, YieldsByLevel

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
        return tuple(told_by_rows(self._given, self._core.issues))

    @property
    def set_aside(self) -> tuple[Issue, ...]:
        """Rows that do not enter, each with its reason."""
        return tuple(told_by_rows(self._given, self._core.set_aside))

    @property
    def notes(self) -> tuple[Note, ...]:
        """Cautions about the record."""
        return tuple(Note(**note) for note in self._core.notes)

    @property
    def columns(self) -> tuple[str, ...]:
        """What was started and each step, by their columns."""
        return tuple(self._core.columns)

    @property
    def levels(self) -> tuple[str, ...]:
        """Columns whose levels can be compared."""
        return tuple(one["column"] for one in self._core.level_columns)

    @property
    def fingerprint(self) -> str:
        """A short hash of the batches; the order of rows does not matter."""
        return str(self._core.fingerprint)

    def __repr__(self) -> str:
        batches = self._core.batches
        started = sum(one["started"] for one in batches)
        chain = ", ".join(self.columns[1:])
        levels = f"; levels of {', '.join(self.levels)}" if self.levels else ""
        aside = len(self.set_aside)
        told = f" {aside} {'row' if aside == 1 else 'rows'} set aside." if aside else ""
        of = f"{len(batches)} {'batch' if len(batches) == 1 else 'batches'}, {started} {self.columns[0]}"
        return f"Steps: {of}; counted at {chain}{levels}.{told}"

    def batches(self) -> pl.DataFrame:
        """One row per batch and step: how many reached it and passed it; a step that a batch is too young for has none.

        Columns of levels stand behind, and ``date``, the day of the step, where dates were named. Parts of a batch that
        was split or merged are put together; those at several levels have a row each.

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
            (one["name"], step, counts["reached"], counts["passed"], date, *part["labels"])
            for one in self._core.batches
            for at, (step, date) in enumerate(zip(names, one["dates"][1:] or [None] * len(names), strict=True))
            for part in one.get("parts") or [one]
            if (counts := part["steps"][at]) is not None and (counts["reached"] or part is one)
        ]
        own = ("batch", "step", "reached", "passed", "date")
        levels = [name if name not in own else f"{name} (level)" for name in self.levels]
        types: dict[str, Any] = {"batch": pl.String, "step": pl.String, "reached": pl.Int64, "passed": pl.Int64}
        types |= {"date": pl.Int32} | dict.fromkeys(levels, pl.String)
        frame = pl.DataFrame(rows, schema=types, orient="row")
        dated = frame["date"].null_count() < frame.height
        return frame.with_columns(pl.col("date").cast(pl.Date)) if dated else frame.drop("date")

    def yields(
        self,
        whose: YieldOf = "followed-cohorts",
        *,
        confidence: Confidence = 0.95,
        draws: int = 999,
        seed: int = 1,
        costs: float | Mapping[str, float] | None = None,
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
        costs : float or dict, optional
            What is spent on each started plant; or, by columns, on each plant that comes to a step, whether it passes
            it or not: ``{"grafted": 1.2, "second_graft": 0.8}`` bills every second graft that was made, not only those
            that took. The answer says what each was multiplied with, and what a tree costs that reaches the end.

        Returns
        -------
        StepYields
            The overall yield ``value`` with limits, and ``steps`` with ``take``, its limits, ``left``, ``lost``,
            ``gain`` and ``most_often``; ``cost`` of a tree at the end with ``cost_low`` and ``cost_high``.

        Raises
        ------
        CountError
            With fewer than two batches, or a step that no plant reached.

        Notes
        -----
        Batches are the units: variances and covariances of takes are by linearisation over batches, within seasons
        where these are named; limits are Wilson's on effective plants with t. They hold for the seasons of these
        batches.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": ["b1", "b2", "b3"], "grafted": [50, 50, 60], "taken": [45, 44, 52]}
        >>> rows["saleable"] = [20, 26, 28]
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "saleable"])
        >>> steps.yields().sentence
        'Saleable costs most: 42 of 100 started; five points there bring 4 more to saleable.'
        """
        options = {"whose": whose, "confidence": confidence, "draws": draws, "seed": seed, "costs": self._costs(costs)}
        return StepYields(self._core.yields(options))

    def compare(
        self,
        column: str,
        first: Any,
        second: Any,
        *,
        whose: YieldOf = "followed-cohorts",
        confidence: Confidence = 0.95,
    ) -> YieldComparison:
        """Two levels (seasons, rooms, grafters, cultivars, treatments) side by side, step by step.

        Parameters
        ----------
        column : str
            The column of the levels, as it was named when loading. A treatment of a later step is followed from that
            step to the end.
        first, second
            Its two levels; differences are second minus first.
        whose : {"followed-cohorts", "current-rates"}
            As for ``yields``.
        confidence : float
            Confidence level, a proportion.

        Returns
        -------
        YieldComparison
            ``value`` with limits, the difference at the end; ``steps`` with the difference of each take and ``part``,
            what it adds at the end; ``rates`` and ``mix`` where batches differ in other levels too.

        Raises
        ------
        CountError
            With fewer than two batches of a level.
        ChoiceError
            For a column or a level that is not there.

        Notes
        -----
        Batches are the units. Limits of a difference are made of those of both rates (Zou and Donner 2008), parts of
        steps add up to the whole (logarithmic means; where a take is 0 the mean over all orders).

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": list("abcdef"), "season": [2024] * 3 + [2025] * 3, "grafted": [50, 50, 60] * 2}
        >>> rows["saleable"] = [20, 26, 28, 35, 31, 40]
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "saleable"], season="season")
        >>> found = steps.compare("season", 2024, 2025)
        >>> round(found.value, 3), found.low > 0
        (0.2, True)
        """
        options = {"whose": whose, "confidence": confidence}
        levels = (_level("first", first), _level("second", second))
        return YieldComparison(self._core.compare(_column(column), levels, options))

    def compare_all(
        self, column: str, *, whose: YieldOf = "followed-cohorts", confidence: Confidence = 0.95
    ) -> YieldsByLevel:
        """All levels of a column side by side, with the gap to the best at each step.

        Parameters
        ----------
        column : str
            The column of the levels, as it was named when loading.
        whose, confidence
            As for ``yields``.

        Returns
        -------
        YieldsByLevel
            ``levels`` with ``value`` and limits, ``steps`` with the ``take`` of each level, its ``gap`` to the ``best``
            and what that would ``gain``; ``best``, the level of the highest yield; ``may_be_best``, those that are not
            shown to bring less; ``pairs``, every two levels with limits that hold together (Bonferroni).

        Raises
        ------
        CountError
            With fewer than two levels of two batches.
        ChoiceError
            For a column that is not there.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"batch": list("abcd"), "room": [1, 1, 2, 2], "grafted": [50, 50, 60, 50]}
        >>> rows |= {"taken": [45, 44, 50, 42], "saleable": [20, 26, 38, 35]}
        >>> steps = rl.steps.load(rows, batch="batch", steps=["grafted", "taken", "saleable"], room="room")
        >>> found = steps.compare_all("room")
        >>> [(one.level, one.step, one.best) for one in found.steps if one.gap > 0]
        [('2', 'taken', '1'), ('1', 'saleable', '2')]
        """
        options = {"whose": whose, "confidence": confidence}
        return YieldsByLevel(self._core.compare_all(_column(column), options))

    def _costs(self, costs: Any) -> list[dict[str, Any]]:
        """Costs by column; a single number is that of each started plant."""
        given: Any = {} if costs is None else costs
        if isinstance(plain(given), (int, float)) and not isinstance(plain(given), bool):
            given = {self.columns[0]: given}
        line = f'write costs=1.9 or costs={{"{self.columns[0]}": 1.2, "{self.columns[-1]}": 0.8}}'
        if not isinstance(given, Mapping):
            raise CountError(f"costs={shortened(costs)} is no number and no dictionary of columns; {line}")
        found = []
        for step, cost in given.items():
            number = plain(cost)
            if not is_name(step) or isinstance(number, bool) or not isinstance(number, (int, float)):
                raise CountError(
                    f"costs holds {shortened(step)}: {shortened(cost)}, which is no column with its cost; {line}"
                )
            found.append({"step": step, "cost": float(number)})
        return found

    def to_start(
        self,
        wanted: int,
        *,
        assurance: float = 0.95,
        season_sd: float | None = None,
        batch_size: float | None = None,
        costs: float | Mapping[str, float] | None = None,
    ) -> StartNumbers:
        """How many plants to start so that at least so many reach the end with this chance.

        Parameters
        ----------
        wanted : int
            Plants wanted at the end.
        assurance : float
            The chance with which they are to be reached, a proportion.
        season_sd : float, optional
            Standard deviation of seasons on the log odds; 0 where a season like those of the record is meant. When left
            out it is estimated from three seasons and more, where ``season=`` was named, with t on seasons less one.
        batch_size : float, optional
            Plants of one batch; as in the record when left out.
        costs : float or dict, optional
            As for ``yields``.

        Returns
        -------
        StartNumbers
            ``started``, its ``chance``; ``by_yield`` and ``alone``, what the yield alone and plants that stand alone
            would ask for, each with the chance that it really does; ``cost`` of all and ``cost_per_tree``.

        Raises
        ------
        CountError
            With fewer than two batches followed to the end, none that reached it, or a number that cannot be.

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
        return StartNumbers(self._core.to_start(wanted, options | {"costs": self._costs(costs)}))

    def sure_of(
        self,
        started: int,
        *,
        assurance: float = 0.95,
        season_sd: float | None = None,
        batch_size: float | None = None,
        costs: float | Mapping[str, float] | None = None,
    ) -> StartNumbers:
        """How many plants at least reach the end of so many started, with this chance: the inverse of ``to_start``.

        Parameters
        ----------
        started : int
            Plants started.
        assurance, season_sd, batch_size, costs
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
        return StartNumbers(self._core.sure_of(started, options | {"costs": self._costs(costs)}))


def _column(column: Any) -> str:
    if not is_name(column):
        raise ChoiceError(f'column={shortened(column)} is no name of a column; write "season"')
    return str(column)


def _level(name: str, level: Any) -> str:
    value = plain(level)
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ChoiceError(
            f'{name}={shortened(level)} is no level; write it as it stands in the column, for example "2025"'
        )
    return f"{value:g}" if isinstance(value, float) else str(value)


def again(how: str, given: tuple[Any, ...]) -> Steps:
    """A chain from what was handed to the core: when it is loaded, and when it was pickled."""
    if how == "both":
        first, counts, second, plants, wanted, listed, options = given
        tables = _table(first, counts, wanted, options["header_row"]), _table(second, plants, listed, None)
        return Steps(_core.steps.with_plants(*tables, options), (how, given))
    if how == "cells":
        return Steps(_core.steps.read_cells(*given), (how, given))
    if how == "text":
        return Steps(_core.steps.read_csv(*given), (how, given))
    return Steps(_core.steps.from_stream(*given), (how, given))


def _table(how: str, given: tuple[Any, ...], wanted: list[str], header_row: int | None) -> Any:
    """A table of counts or plants, before it is read."""
    if how == "cells":
        cells, notes = given
        return _core.steps.table_of_cells(cells, notes, wanted, header_row)
    if how == "text":
        (text,) = given
        return _core.steps.table_of_csv(text, wanted, header_row)
    return _core.steps.table_of_stream(*given)
