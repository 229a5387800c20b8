"""Rows of cuttings counted by the engine that holds them: a line for each set of rows that are alike comes over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from rootling._frames.engines import Asked, Engine
from rootling._frames.frames import LOOKED_AT, as_frame, narrow, others, simplify
from rootling.exceptions import TrialDataError

__all__ = ["Counted", "counted"]

# Lines that come over at most: trays of a million and their outcomes are a few of them.
MOST = 10_000_000
# Rows in which columns of many values are looked for before all rows are counted, trays in which a covariate may vary
# by a slip, of which the core tells, and values of it that may.
LOOKED_THROUGH = 50_000
FEW = 1_000


@dataclass(frozen=True)
class Counted:
    """Lines as they were counted, with the names of all columns of the table.

    ``raw`` holds entries as the engine has them, ``times`` is the column of how many rows a line stands for, and
    ``numbers`` are those of the first of these rows, where they were asked for.
    """

    raw: pl.DataFrame
    times: str
    numbers: list[int]
    names: list[str]

    @property
    def frame(self) -> pl.DataFrame:
        """The lines as the core takes them."""
        return simplify(self.raw)

    def numbered(self, engine: Engine) -> Counted:
        """The same lines once more, with the number of the first row of each."""
        columns, first = [name for name in self.raw.columns if name != self.times], _free("first row", self.names)
        lines = as_frame(engine.counted(columns, Asked(self.times, MOST, first)), [*columns, self.times, first])
        return replace(self, raw=narrow(lines, self.raw.columns), numbers=lines.get_column(first).to_list())


def counted(engine: Engine, columns: Sequence[str], covariates: Sequence[str], outcome: str | None = None) -> Counted:
    """Has the engine count the rows that are alike in some columns.

    Parameters
    ----------
    engine
        What holds the rows.
    columns, covariates
        The columns that matter, and those of them that hold amounts.
    outcome
        One of them that says yes or no.

    Raises
    ------
    TrialDataError
        Where nearly every row is unlike all others, so that counting would bring over the table itself.
    """
    names = engine.names()
    height = engine.height(MOST)
    wanted = list(dict.fromkeys(columns))
    if height > MOST:
        _refuse_many_values(engine, wanted, covariates)
    if height <= min(LOOKED_AT, MOST):
        wanted += others(engine, wanted, height)
    times = _free("times", names)
    lines = as_frame(engine.counted(wanted, Asked(times, MOST + 1, outcome=outcome)), [*wanted, times])
    if lines.height > MOST:
        raise _too_many(lines, wanted)
    raw = narrow(lines, [*wanted, times])
    return Counted(raw if engine.numbered else raw.sort(wanted), times, [], names)


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
