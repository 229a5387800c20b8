"""Rows of cuttings counted by the engine that holds them: a line for each set of rows that are alike comes over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import polars as pl

from rootling._frames.engines import Asked, Engine, Tally
from rootling._frames.frames import LOOKED_AT, as_frame, narrow, others, simplify
from rootling.exceptions import TrialDataError

__all__ = ["PARTS", "Counted", "counted"]

# Lines that come over at most: trays of a million and their outcomes are a few of them.
MOST = 10_000_000
# Parts of loading: rows, columns of many values, sets of rows that are alike, and what the core makes of them.
PARTS = 4
# Rows in which columns of many values are looked for before all rows are counted, trays in which a covariate may vary
# by a slip, of which the core tells, and values of it that may.
LOOKED_THROUGH = 50_000
FEW = 1_000


@dataclass(frozen=True)
class Counted:
    """Lines as they were counted, with the names of all columns of the table.

    ``times`` is the column of how many rows a line stands for, and
    ``numbers`` are those of the first of these rows, where they were asked for.
    """

    found: pl.DataFrame | Tally
    columns: list[str]
    times: str
    numbers: list[int]
    names: list[str]
    days: Sequence[str] = ()
    ordered: bool = True

    @cached_property
    def raw(self) -> pl.DataFrame:
        """Lines with the entries that the engine has."""
        found = self.found.lines() if isinstance(self.found, Tally) else self.found
        raw = narrow(found, [*self.columns, self.times])
        return raw if self.ordered else raw.sort(self.columns)

    @cached_property
    def frame(self) -> pl.DataFrame:
        """The lines as the core takes them."""
        return simplify(self.raw, self.days)

    @property
    def tally(self) -> pl.DataFrame | None:
        """The same with yes and no beside each other, half as many lines; None where they are not counted so."""
        if not isinstance(self.found, Tally):
            return None
        return simplify(narrow(self.found.frame, [*self.columns, self.times]), self.days)

    def numbered(self, engine: Engine) -> Counted:
        """The same lines once more, with the number of the first row of each."""
        first = _free("first row", self.names)
        asked = Asked(self.times, MOST, first)
        lines = as_frame(engine.counted(self.columns, asked), [*self.columns, self.times, first])
        return Counted(lines, self.columns, self.times, lines.get_column(first).to_list(), self.names, self.days)


def counted(
    engine: Engine,
    columns: Sequence[str],
    covariates: Sequence[str],
    outcome: str | None = None,
    days: Sequence[str] = (),
) -> Counted:
    """Has the engine count the rows that are alike in some columns.

    Parameters
    ----------
    engine
        What holds the rows.
    columns, covariates
        The columns that matter, and those of them that hold amounts.
    outcome
        One of them that says yes or no.
    days
        Columns of days beside them.

    Raises
    ------
    TrialDataError
        Where nearly every row is unlike all others, so that counting would bring over the table itself.
    """
    names = engine.names()
    height = engine.height(MOST)
    wanted = list(dict.fromkeys(columns))
    engine.told(1, PARTS)
    if height > MOST:
        _refuse_many_values(engine, wanted, covariates)
    engine.told(2, PARTS)
    small = height <= min(LOOKED_AT, MOST)
    if small:
        wanted += others(engine, wanted, height)
    wanted += [name for name in days if name not in wanted]
    times = _free("times", names)
    asked = Asked(times, MOST + 1, outcome=outcome)
    tally = engine.tallied(wanted, asked)
    if tally is not None and not small and tally.frame.height <= MOST:
        engine.told(3, PARTS)
        return Counted(tally, wanted, times, [], names, days)
    # Of a small table columns that nobody named are looked through too, line by line.
    found = tally.lines() if tally is not None else as_frame(engine.counted(wanted, asked), [*wanted, times])
    if found.height > MOST:
        raise _too_many(found, wanted)
    engine.told(3, PARTS)
    return Counted(found, wanted, times, [], names, days, ordered=engine.numbered)


def _free(name: str, names: Sequence[str]) -> str:
    """A name that no column has."""
    return next(one for one in (name, *(f"{name} {k}" for k in range(2, len(names) + 3))) if one not in names)


def _refuse_many_values(engine: Engine, columns: Sequence[str], covariates: Sequence[str]) -> None:
    """Stops before the count where its lines would be nearly as many as the rows."""
    labels = [name for name in columns if name not in covariates]
    if covariates:
        varying = {name: sets for name, sets in engine.varying(labels, covariates).items() if sets > FEW}
        values = engine.values(list(varying)) if varying else {}
        for name, sets in varying.items():
            if values[name] > FEW:
                why = f"it has {values[name]} different entries and varies within {sets} trays or sets of cuttings"
                raise _of_column(name, why)
    part = as_frame(engine.first(labels, LOOKED_THROUGH), labels)
    # Among the first rows most are alone where each has entries of its own, and where rows stand in no order.
    if 2 * part.unique().height > part.height:
        values = engine.values(labels)
        name = max(values, key=lambda one: values[one])
        if values[name] > MOST:
            raise _of_column(name, f"it has {values[name]} different entries")


def _too_many(lines: pl.DataFrame, columns: Sequence[str]) -> TrialDataError:
    values = {name: lines.get_column(name).n_unique() for name in columns}
    name = max(values, key=lambda one: values[one])
    return _of_column(name, f"it has {values[name]} different entries and more")


def _of_column(name: str, why: str) -> TrialDataError:
    reason = f"{why}, so counting would bring over nearly every row, and rows are never collected"
    hint = (
        "leave the column out, or give each tray one value of it, its mean or a class, in the query before loading; a "
        "sample of whole trays will do too"
    )
    return TrialDataError.of_input("too_many_values", reason, hint, column=name)
