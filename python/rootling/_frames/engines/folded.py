"""Rows of a lazy frame on their way to be grouped, folded piece by piece: those side by side that are alike are one."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

import polars as pl

from rootling import _core
from rootling._frames.readers import seen

__all__ = ["Rows", "folded"]

# Seconds between two words of how far a query is.
TELL_EVERY = 0.1
# What a column holds as whole numbers, whatever it is shown as: within a piece the same ones are the same entries.
AS_NUMBERS = (pl.Date, pl.Datetime, pl.Duration, pl.Time, pl.Categorical, pl.Enum)
PLAIN = (pl.Boolean, pl.String, pl.Null, pl.Float32, pl.Float64)
WHOLE = (pl.Int8, pl.Int16, pl.Int32, pl.Int64, pl.UInt8, pl.UInt16, pl.UInt32, pl.UInt64)


class Rows:
    """How many rows of those there are a query has read, told to whoever watches; what that raises ends the query."""

    def __init__(self, rows: int, progress: Callable[[int, int], object]) -> None:
        self.raised: BaseException | None = None
        self._rows = rows
        self._progress = progress
        self._lock = threading.Lock()
        self._done = 0
        self._told = time.monotonic()

    def read(self, rows: int) -> None:
        """So many rows more."""
        with self._lock:
            self._done = min(self._done + rows, self._rows)
            if time.monotonic() - self._told < TELL_EVERY:
                return
            self._told = time.monotonic()
            try:
                with seen():
                    self._progress(self._done, self._rows)
            except BaseException as error:
                self.raised = error
                raise


def folded(
    rows: pl.LazyFrame, labels: Sequence[str], turns: Sequence[str], times: str, told: Rows | None = None
) -> pl.LazyFrame:
    """The rows with how many each stands for: where rows beside each other are alike, the first of them for all.

    Parameters
    ----------
    rows
        The rows. Columns that are neither labels nor take turns keep the entry of the first row.
    labels
        Columns in which rows beside each other are alike where they do.
    turns
        Columns of a few entries that take turns within such rows.
    times
        The column of how many rows a line stands for.
    told
        Whoever is told how many rows were read.
    """
    schema = rows.collect_schema()
    compared = [*labels, *turns]
    foldable = all(schema[name] in (*PLAIN, *WHOLE) or isinstance(schema[name], AS_NUMBERS) for name in compared)
    if not foldable and told is None:
        return rows.with_columns(pl.lit(1, pl.Int64).alias(times))

    def fold(piece: pl.DataFrame) -> pl.DataFrame:
        if told is not None:
            told.read(piece.height)
        columns = [piece.get_column(name) for name in compared] if foldable and piece.height else []
        plain = [one.to_physical() if isinstance(one.dtype, AS_NUMBERS) else one for one in columns]
        found = _core.trial.runs(pl.DataFrame(plain), len(labels)) if plain else None
        if found is None:
            return piece.with_columns(pl.repeat(1, piece.height, dtype=pl.Int64, eager=True).alias(times))
        first, many = found
        return piece[pl.Series(first)].with_columns(pl.Series(times, many))

    made = pl.Schema({**schema, times: pl.Int64()})
    return rows.map_batches(fold, streamable=True, schema=made, validate_output_schema=False)
