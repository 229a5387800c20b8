"""A crop under watch: what it knows of itself, and the questions it can be asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from rootling import _core
from rootling._frames import told_by_rows
from rootling._given import day, is_name, shortened
from rootling._given.choices import Confidence
from rootling._results import Note
from rootling._words import clean
from rootling.exceptions import ChoiceError, Issue
from rootling.watch.results import Baseline, BatchChart, MixChange, Signals, WatchedPlaces, WatchedTarget

if TYPE_CHECKING:
    import polars as pl

Stretch = tuple[Any, Any]


class Watch:
    """A crop under watch. Made by :func:`rootling.watch.load`; never changed afterwards."""

    __slots__ = ("_core", "_given")
    _core: Any
    _given: tuple[str, tuple[Any, ...]]

    def __init__(self, core: Any, given: tuple[str, tuple[Any, ...]]) -> None:
        object.__setattr__(self, "_core", core)
        object.__setattr__(self, "_given", given)

    def __reduce__(self) -> Any:
        return again, self._given

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a watched crop cannot be changed; load it again")

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
    def reading_age(self) -> int | None:
        """Days after setting at which batches are judged."""
        return self._core.reading_age  # type: ignore[no-any-return]

    @property
    def fingerprint(self) -> str:
        """A short hash of the batches; the order of rows does not matter."""
        return str(self._core.fingerprint)

    def batches(self) -> pl.DataFrame:
        """One row per batch at the reading that counts.

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> watch.batches().columns[:3]
        ['batch', 'set', 'read']
        """
        import polars as pl

        held, groupings = self._core.batches, self._core.groupings
        columns: dict[str, Any] = {
            "batch": [one["name"] for one in held],
            "set": [_core.watch.shown_day(one["set"]) for one in held],
            "read": [_core.watch.shown_day(one["read"]) for one in held],
        }
        for at, grouping in enumerate(groupings):
            columns[grouping["name"]] = [grouping["levels"][one["levels"][at]] for one in held]
        columns |= {name: [one[name] for one in held] for name in ("season", "started", "alive")}
        frame = pl.DataFrame(columns)
        return frame.with_columns(pl.col("set", "read").str.to_date())

    def expected(
        self,
        *,
        since: Any = None,
        until: Any = None,
        without: Sequence[Stretch] = (),
        progress: Callable[[int, int], object] | None = None,
    ) -> Baseline:
        """What the crop is expected to do: its baseline, frozen until you make another one.

        Rates by cultivar, grafter, place and, with two full years, time of year; how alike plants of one batch are,
        and how much set weeks differ, within places and over all. Make it of a time in which nothing was wrong.

        Parameters
        ----------
        since, until : str or date, optional
            First and last day of reading; from the beginning, and up to two thirds of the batches when left out.
        without : list of (first day, last day), optional
            Stretches of readings to leave out, such as a known mishap.
        progress : callable, optional
            Called with steps finished and expected.

        Returns
        -------
        Baseline
            Keep it with ``to_json``; ``Baseline.from_json`` brings it back.

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> baseline = watch.expected(until="2024-12-31")
        >>> 0.8 < baseline.value < 0.95
        True
        """
        options = {"since": day("since", since), "until": day("until", until), "without": _stretches(without)}
        return Baseline(self._core.expected(options, progress), {"watch": self})

    def signals(
        self,
        baseline: Baseline | None = None,
        *,
        until: Any = None,
        drop: float = 0.05,
        weeks_between: float = 104,
        charts: Sequence[str] | None = None,
        draws: int = 999,
        seed: int = 1,
        confidence: Confidence = 0.9,
        progress: Callable[[int, int], object] | None = None,
    ) -> Signals:
        """Whether fewer survive than expected; since when, where and how much; or quiet, and what would have shown.

        Parameters
        ----------
        baseline : Baseline, optional
            What is expected, from :meth:`expected`; made of all readings up to ``until`` when left out.
        until : str or date, optional
            Last day of the baseline, where none is given.
        drop : float
            The drop to look for, a proportion: 0.05 is five trees per 100. At least 0.001, and at most three quarters
            of the usual rate.
        weeks_between : float
            Weeks between signals that come by chance, over all charts together.
        charts : list of str, optional
            Columns each level of which gets a chart, beside that of all batches; the places when left out.
        draws : int
            Draws for the P value of the search.
        seed : int
            Seed of the draws.
        confidence : float
            Confidence of weeks and sizes.
        progress : callable, optional
            Called with draws finished and expected.

        Returns
        -------
        Signals
            ``charts``, ``signals`` (the log), ``change`` after a signal, ``quiet`` without one.

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> found = watch.signals(watch.expected(until="2024-12-31"), draws=199)
        >>> found.charts[0].grouping is None
        True
        """
        made = self._baseline(baseline, until)
        options = {
            "drop": drop,
            "weeks_between": weeks_between,
            "charts": _listed(charts),
            "draws": draws,
            "seed": seed,
            "confidence": confidence,
        }
        return Signals(self._core.signals(made, options, progress), {"watch": self})

    def batch_chart(
        self, baseline: Baseline | None = None, *, until: Any = None, one_in: float = 500, weight: float = 0.1
    ) -> BatchChart:
        """Batches one by one beside what was expected of them.

        Parameters
        ----------
        baseline, until
            As in :meth:`signals`.
        one_in : float
            Of so many batches one may lie below its lower limit by chance.
        weight : float
            Weight of each new batch in the exponentially weighted average, above 0 and up to 1; the smaller, the
            smoother.

        Returns
        -------
        BatchChart

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> watch.batch_chart(until="2024-12-31").kind
        'batch_chart'
        """
        made = self._baseline(baseline, until)
        return BatchChart(self._core.batch_chart(made, {"one_in": one_in, "weight": weight}), {"watch": self})

    def mix(self, start: Any, *, since: Any = None, until: Any = None, confidence: Confidence = 0.95) -> MixChange:
        """How much of a raw difference is what was set: rates, mix and kinds of one stretch only; points that add up.

        Batches are of the same kind where all columns of cultivars, grafter and places are the same.

        Parameters
        ----------
        start : str or date
            First day of reading of the later stretch; what was read before is the earlier one.
        since, until : str or date, optional
            First day of the earlier stretch, last day of the later one.
        confidence : float
            Confidence of the limits of what the rates of the same kinds add.

        Returns
        -------
        MixChange

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> found = watch.mix("2025-01-01")
        >>> parts = found.rates + sum(part.value for part in found.mix) + found.without_partner
        >>> abs(parts - found.value) < 1e-9
        True
        """
        options = {
            "from": day("start", start),
            "since": day("since", since),
            "until": day("until", until),
            "confidence": confidence,
        }
        return MixChange(self._core.mix(options), {"watch": self})

    def target(
        self,
        target: float | Literal["last-season"],
        baseline: Baseline | None = None,
        *,
        since: Any = None,
        until: Any = None,
    ) -> WatchedTarget:
        """Whether a target is missed by more than batches, weeks and seasons make anyway.

        Parameters
        ----------
        target : float or "last-season"
            The rate aimed at, a proportion; or what the season before gave at this time of year, moved to this
            season's mix.
        baseline : Baseline, optional
            Says how batches, weeks and seasons differ; that of :meth:`expected` when left out.
        since, until : str or date, optional
            First and last day of reading; all after the baseline when left out.

        Returns
        -------
        WatchedTarget

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> watch.target(0.88, watch.expected(until="2024-12-31")).target
        0.88
        >>> watch.target("last-season", watch.expected(until="2024-12-31")).last_season is None
        False
        """
        made = self._baseline(baseline, None)
        options = {"since": day("since", since), "until": day("until", until)}
        if target is None or (isinstance(target, str) and target != "last-season"):
            raise ChoiceError(f'target={shortened(target)} is no rate; write target=0.88 or target="last-season"')
        aim = None if isinstance(target, str) else target
        return WatchedTarget(self._core.target(aim, made, options), {"watch": self})

    def places(
        self,
        baseline: Baseline | None = None,
        *,
        column: str | None = None,
        since: Any = None,
        until: Any = None,
        confidence: Confidence = 0.95,
    ) -> WatchedPlaces:
        """Whether one room, or one grafter, stands out from the others.

        Each is set against what the baseline expects of its mix; how far such units lie from that anyway is taken
        from all but the one judged, so that it cannot hide itself. With fewer than five units the limits are wide.

        Parameters
        ----------
        baseline : Baseline, optional
            What is expected; that of :meth:`expected` when left out.
        column : str, optional
            The column whose levels are set side by side: a place, the grafter, a cultivar; the first place when left
            out.
        since, until : str or date, optional
            First and last day of reading; all after the baseline when left out.
        confidence : float
            Confidence of the limits, for all units together.

        Returns
        -------
        WatchedPlaces

        Examples
        --------
        >>> import rootling as rl
        >>> watch = rl.watch.load(rl.demo.weekly_batches(seed=1), batch="batch", started="started", alive="alive",
        ...                       set_date="set", reading_date="read", cultivars="rootstock", places="room")
        >>> watch.places(watch.expected(until="2024-12-31"), column="room").column
        'room'
        """
        made = self._baseline(baseline, None)
        options = {
            "column": column,
            "since": day("since", since),
            "until": day("until", until),
            "confidence": confidence,
        }
        return WatchedPlaces(self._core.places(made, options), {"watch": self})

    def _baseline(self, baseline: Baseline | None, until: Any) -> dict[str, Any]:
        """The record of a baseline, made anew where none was given."""
        if baseline is None:
            options: dict[str, Any] = {"since": None, "until": day("until", until), "without": []}
            return self._core.expected(options, None)["baseline"]  # type: ignore[no-any-return]
        if not isinstance(baseline, Baseline):
            raise ChoiceError(f"baseline={shortened(baseline)} is none; write baseline=watch.expected(until=...)")
        if until is not None:
            raise ChoiceError("until= is the end of a baseline to be made, and one was given; leave one of them out")
        record = baseline.to_dict().get("baseline")
        if not isinstance(record, dict):
            raise ChoiceError("this baseline holds no record of what is expected; make it again from its crop")
        return record

    @property
    def sentence(self) -> str:
        """What the record holds."""
        held = self._core.batches
        names = [grouping["name"].replace("_", " ") for grouping in self._core.groupings]
        ends = (min(batch["set"] for batch in held), max(batch["read"] for batch in held))
        first, last = map(_core.watch.shown_day, ends)
        batches = "1 batch" if len(held) == 1 else f"{len(held)} batches"
        by = f", by {_listed_in_words(names)}" if names else ""
        age = "" if self.reading_age is None else f"; judged {self.reading_age} days after setting"
        return clean(f"{batches} set from {first} on, read until {last}{by}{age}.")

    def __repr__(self) -> str:
        count = len(self.set_aside)
        aside = f" {count} {'row' if count == 1 else 'rows'} set aside." if count else ""
        return f"Watch: {self.sentence}{aside}"


def again(how: str, given: tuple[Any, ...]) -> Watch:
    """A crop from what was handed to the core: when it is loaded, and when it was pickled."""
    if how == "cells":
        return Watch(_core.watch.read_cells(*given), (how, given))
    if how == "text":
        return Watch(_core.watch.read_csv(*given), (how, given))
    return Watch(_core.watch.from_stream(*given), (how, given))


def _listed_in_words(names: list[str]) -> str:
    """Names as they stand in a sentence: "room, grafter and rootstock"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _listed(charts: Any) -> list[str] | None:
    """Names of columns; one alone is a list of itself."""
    if charts is None or isinstance(charts, str):
        return None if charts is None else [charts]
    if isinstance(charts, Iterable) and not isinstance(charts, (bytes, Mapping)):
        found = list(charts)
        if all(map(is_name, found)):
            return found
    raise ChoiceError(f'charts={shortened(charts)} is no list of columns; write charts=["room"]')


def _stretches(given: Sequence[Stretch] | None) -> list[tuple[int, int]]:
    found = []
    told = f'without={shortened(given)} is no list of stretches; write without=[("2025-03-01", "2025-03-31")]'
    if given is None:
        return []
    if isinstance(given, (str, bytes)) or not isinstance(given, Iterable):
        raise ChoiceError(told)
    for stretch in given:
        ends = tuple(stretch) if isinstance(stretch, (tuple, list)) else ()
        if len(ends) != 2:
            raise ChoiceError(told)
        first, last = day("without", ends[0]), day("without", ends[1])
        if first is None or last is None or first > last:
            raise ChoiceError(told + ", the first day first")
        found.append((first, last))
    return found
