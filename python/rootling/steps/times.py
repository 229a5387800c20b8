"""Visits to trays: what they know of themselves, and what they are asked about time."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import Confidence, TimeEvent
from rootling._results import Note
from rootling.exceptions import Issue
from rootling.steps.results import TimeCourse, TimesCompared

if TYPE_CHECKING:
    import polars as pl


class Visits:
    """Visits to trays. Made by :func:`rootling.steps.visits`; never changed afterwards."""

    __slots__ = ("_core", "_given")
    _core: Any
    _given: tuple[str, tuple[Any, ...]]

    def __init__(self, core: Any, given: tuple[str, tuple[Any, ...]]) -> None:
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "_given", given)

    def __reduce__(self) -> Any:
        return visited, self._given

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("visits cannot be changed; load them again")

    def __repr__(self) -> str:
        first: dict[tuple[str, ...], float] = {}
        for row in self._core.rows():
            first.setdefault((row["tray"], *row["levels"]), row["at_risk"])
        plants = round(sum(first.values()))
        of = f"{plants} {'plant' if plants == 1 else 'plants'}"
        if self._core.columns["trays"]:
            of = f"{len(first)} {'tray' if len(first) == 1 else 'trays'}, {of}"
        *early, last = [str(day) for day in self.days] or ["none"]
        when = f"days {', '.join(early)} and {last}" if early else f"day {last}"
        levels = f"; treatments {', '.join(self.treatments)}" if self.treatments else ""
        aside = len(self.set_aside)
        told = f" {aside} {'row' if aside == 1 else 'rows'} set aside." if aside else ""
        return f"Visits: {of}; visited on {when}{levels}.{told}"

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
    def treatments(self) -> tuple[str, ...]:
        """The columns of treatments."""
        return tuple(self._core.columns["treatments"])

    @property
    def days(self) -> tuple[int, ...]:
        """The days of the visits, since setting."""
        return tuple(self._core.days)

    @property
    def fingerprint(self) -> str:
        """A short hash of the trays; the order of rows does not matter."""
        return str(self._core.fingerprint)

    def trays(self) -> pl.DataFrame:
        """One row per tray and visit: how many were waiting before it, and of these rooted and dead at it.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"tray": ["a", "a"], "day": [14, 28], "started": [20, 20], "rooted": [3, 11]}
        >>> seen = rl.steps.visits(rows, tray="tray", day="day", started="started", rooted="rooted")
        >>> seen.trays().rows()
        [('a', 14, 20.0, 3.0, 0.0), ('a', 28, 17.0, 8.0, 0.0)]
        """
        import polars as pl

        rows = [
            (row["tray"], *row["levels"], row["day"], row["at_risk"], row["rooted"], row["dead"])
            for row in self._core.rows()
        ]
        types: dict[str, Any] = {"tray": pl.String, **dict.fromkeys(self.treatments, pl.String), "day": pl.Int64}
        types |= dict.fromkeys(("at_risk", "rooted", "dead"), pl.Float64)
        return pl.DataFrame(rows, schema=types, orient="row")

    def over_time(
        self,
        treatment: str | None = None,
        event: TimeEvent = "rooted",
        *,
        confidence: Confidence = 0.95,
        progress: Callable[[int, int], object] | None = None,
    ) -> TimeCourse:
        """The share of all started that has rooted by each visit, with deaths competing, and when half have.

        Parameters
        ----------
        treatment : str, optional
            The treatment whose levels are shown; all plants together when left out.
        event : {"rooted", "dead"}
            What is waited for.
        confidence : float
            Confidence level, a proportion.
        progress : callable, optional
            Called with the trays (or groups of them) left out so far and wanted, to move a progress bar.

        Returns
        -------
        TimeCourse
            ``levels``, each with ``visits`` (``day``, ``value`` so far with ``low`` and ``high``, ``other``,
            ``waiting``) and ``half``: half have come to it after the day ``after`` and by the day ``by``, with limits
            ``low`` and ``high``; all None where less than half have.

        Notes
        -----
        Shares are of all started: a plant that died has not rooted and never will. Days are those of visits, so half
        have come to it between two of them. There is no mean over the rooted alone: those that take longest are missing
        from it. Trays are the units; limits are Wilson's on effective plants, from leaving out one tray after the
        other, by t on trays less one. Without trays plants count as if each stood alone, and a note says so; where some
        missed visits, limits come from leaving out parts of the plants, drawn by lot.

        References
        ----------
        Aalen & Johansen 1978, Scand. J. Stat. 5:141-150; Brookmeyer & Crowley 1982, Biometrics 38:29-41.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"tray": ["a", "a", "b", "b"], "day": [14, 28, 14, 28], "started": [20] * 4}
        >>> rows |= {"rooted": [3, 11, 2, 12], "dead": [1, 2, 0, 4]}
        >>> seen = rl.steps.visits(rows, tray="tray", day="day", started="started", rooted="rooted", dead="dead")
        >>> found = seen.over_time()
        >>> found.levels[0].half.after, found.levels[0].half.by, round(found.levels[0].visits[-1].value, 3)
        (14, 28, 0.575)
        """
        options = {"treatment": treatment, "event": event, "confidence": confidence}
        return TimeCourse(self._core.over_time(options, progress))

    def compare_times(
        self,
        treatment: str,
        first: Any = None,
        second: Any = None,
        *,
        against: Any = None,
        event: TimeEvent = "rooted",
        day: int | None = None,
        confidence: Confidence = 0.95,
        draws: int = 9_999,
        seed: int = 1,
        progress: Callable[[int, int], object] | None = None,
    ) -> TimesCompared:
        """Compares two levels over time, or all levels with one: how many more in the end, then how much faster.

        Parameters
        ----------
        treatment : str
            The treatment.
        first, second
            Its two levels; the difference is second minus first. Without them every level is compared with one.
        against
            That one; the first level when left out.
        event : {"rooted", "dead"}
            What is waited for.
        day : int, optional
            The day by which shares are compared, a day of a visit; the last on which both levels have limits when left
            out.
        confidence : float
            Confidence level, a proportion.
        draws : int
            Ways to deal the trays that are drawn where there are too many to go through.
        seed : int
            Where the draws begin.
        progress : callable, optional
            Called with the draws made and wanted, to move a progress bar.

        Returns
        -------
        TimesCompared
            ``pairs``, each with the difference of shares ``value`` by ``day`` with ``low`` and ``high``, its ``p`` and
            ``p_adjusted`` (Holm), ``other`` (shares of what competes and their difference), the ratio of rates
            ``rate`` (``value``, ``low``, ``high``, ``p`` of the model), ``other_rate`` of what competes, and ``pace``
            with the P value of the pace.

        Raises
        ------
        CountError
            When levels never stand in one block, nothing happened in either, or one was never seen after setting.

        Notes
        -----
        How many root in the end and how fast they do are two questions, and a dip that kills changes the first alone.
        The first leads: its P value is from dealing trays to levels anew, within blocks and levels of other treatments,
        by what each tray has more of the share by the day than its place. The pace comes second: trays are dealt by
        what each shows more than the common pace (log-rank scores), and where shares do not differ the sentence names
        it only at half of what is allowed the first. Asked of ``event="dead"`` the answer is about deaths, no advice.

        Ratios are of the rates of those still waiting, one for all visits, from one trinomial of roots, deaths and
        waiting between two visits; limits come from leaving out trays. Both rates are taken to keep their proportion
        between two visits: of levels that differ much, ratios were up to 4 % off with three wide visits and up to 15 %
        with two (simulated). Not for levels of which one starts sooner and the other catches up: the ratio is then an
        average.

        References
        ----------
        Prentice & Gloeckler 1978, Biometrics 34:57-67; Mantel 1966; Peto & Peto 1972.

        Examples
        --------
        >>> import rootling as rl
        >>> rows = {"tray": [*"aabbccdd"], "day": [14, 28] * 4, "started": [20] * 8, "dip": ["no"] * 4 + ["yes"] * 4}
        >>> rows["rooted"] = [3, 8, 2, 9, 9, 17, 11, 16]
        >>> columns = {"tray": "tray", "day": "day", "started": "started", "rooted": "rooted"}
        >>> seen = rl.steps.visits(rows, **columns, treatments=["dip"])
        >>> found = seen.compare_times("dip", "no", "yes").pairs[0]
        >>> round(found.value, 3), round(found.p, 3), round(found.pace.p, 3)
        (0.4, 0.333, 0.333)
        """
        levels = {"first": first, "second": second, "against": against}
        options: dict[str, Any] = {name: None if one is None else spelled(one) for name, one in levels.items()}
        options |= {"event": event, "day": day, "confidence": confidence, "draws": draws, "seed": seed}
        return TimesCompared(self._core.compare_times(treatment, options, progress))


def visited(how: str, given: tuple[Any, ...]) -> Visits:
    """Visits from what was handed to the core: when they are loaded, and when they were pickled."""
    if how == "cells":
        return Visits(_core.steps.visits_of_cells(*given), (how, given))
    if how == "text":
        return Visits(_core.steps.read_visits(*given), (how, given))
    return Visits(_core.steps.visits_of_stream(*given), (how, given))
