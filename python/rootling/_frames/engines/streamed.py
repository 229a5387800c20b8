"""Lazy frames of polars, on its streaming engine: scanned files larger than memory among them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

import polars as pl

from rootling._frames.engines.ended import told as ended
from rootling._frames.engines.folded import Rows, folded
from rootling._frames.engines.tally import Tally
from rootling._frames.engines.which import Asked, Which
from rootling._frames.readers import held, refuse_lost_threads
from rootling.exceptions import TrialDataError

__all__ = ["Streamed"]

# Rows from which on those read are told instead of parts of loading.
LONG = 1_000_000


class Streamed:
    """A lazy frame: its rows stand in an order, and are counted in pieces."""

    name = "polars"
    numbered = True
    writes = (".parquet", ".csv")

    def __init__(self, frame: pl.LazyFrame, progress: Callable[[int, int], object] | None = None) -> None:
        refuse_lost_threads("a lazy frame")
        self._frame = frame
        self._progress = progress
        self._schema = held(frame.collect_schema)
        # The number of rows, where they are told one by one.
        self._height: int | None = None

    def names(self) -> list[str]:
        """The columns."""
        return list(self._schema.names())

    def plain(self) -> list[str]:
        """Columns of numbers, text, dates and true/false."""
        kinds = (pl.Boolean, pl.String, pl.Categorical, pl.Date, pl.Null)
        return [name for name, dtype in self._schema.items() if dtype.is_numeric() or dtype in kinds]

    def told(self, done: int, parts: int) -> None:
        """Tells how far loading is: by parts of it, and of a long table by rows (see ``_rows``)."""
        if self._progress is None:
            return
        if self._height is None:
            self._progress(done, parts)
        elif done == parts:
            self._progress(self._height, self._height)

    def height(self, most: int) -> int:
        """The number of rows; of more than ``most`` one more, so that no text has to be read to its end."""
        found = int(_asked(self._frame.head(most + 1).select(pl.len())).item())
        if self._progress is not None and found > LONG:
            self._height = found if found <= most else self._all()
        return found

    def _all(self) -> int | None:
        """The number of all rows, where that is told without reading them."""
        query = self._frame.select(pl.len())
        plan = held(query.explain)
        known = "FAST COUNT" in plan or ("PROJECT 0/" in plan and "SELECTION" not in plan)
        return int(_asked(query).item()) if known else None

    def first(self, columns: Sequence[str], rows: int) -> pl.DataFrame:
        """So many rows, those that come first."""
        return _asked(self._frame.select(columns).head(rows))

    def listed(self, columns: Sequence[str]) -> pl.DataFrame:
        """The columns as they are."""
        return _asked(self._frame.select(columns))

    def counted(self, columns: Sequence[str], asked: Asked) -> pl.DataFrame:
        """A line for each set of rows that are alike, in the order of their first rows."""
        times, first = pl.col(asked.times).sum(), asked.first
        rows, told = self._folded(columns, asked)
        if first is not None:
            found = rows.group_by(columns).agg(times, pl.col(first).min().cast(pl.Int64))
            return _asked(found.head(asked.most), told).sort(first)
        return _asked(rows.group_by(columns, maintain_order=True).agg(times).head(asked.most), told)

    def tallied(self, columns: Sequence[str], asked: Asked) -> Tally | None:
        """The same with yes and no counted beside each other, half as many sets; None where something else is said."""
        outcome = asked.outcome
        dtype = self._schema.get(outcome) if outcome is not None else None
        if outcome is None or dtype is None or not (dtype == pl.Boolean or dtype.is_integer()):
            return None
        labels = [name for name in columns if name != outcome]
        if not labels:
            return None
        (filled,) = _free([*labels, outcome, asked.times], 1)
        times, entry = pl.col(asked.times), pl.col(outcome)
        yes, said = (entry, entry.is_not_null()) if dtype == pl.Boolean else (entry == 1, entry.is_in([0, 1]))
        counts = [pl.when(which).then(times).otherwise(0).sum() for which in (yes, said)]
        rows, told = self._folded(columns, asked)
        # In the order of rows, trays that stand together are read together: a third less time for the core.
        sets = rows.group_by(labels, maintain_order=True)
        found = _asked(sets.agg(counts[0].alias(outcome), counts[1].alias(filled), times.sum()).head(asked.most), told)
        if found.select((pl.col(filled) != times).any()).item():
            return None
        return Tally(found.drop(filled), outcome, asked.times, dtype)

    def _folded(self, columns: Sequence[str], asked: Asked) -> tuple[pl.LazyFrame, Rows | None]:
        """Lines of rows beside each other, and who is told of those read."""
        rows = self._frame.select(columns)
        if asked.first is not None:
            rows = rows.with_row_index(asked.first, 1)
        told = None if self._progress is None or self._height is None else Rows(self._height, self._progress)
        labels = [name for name in columns if name not in asked.turns]
        return folded(rows, labels, [name for name in columns if name in asked.turns], asked.times, told), told

    def values(self, columns: Sequence[str]) -> dict[str, int]:
        """How many different entries each column has, nearly."""
        return _counts(_asked(self._frame.select(pl.col(columns).approx_n_unique())))

    def varying(self, labels: Sequence[str], columns: Sequence[str]) -> dict[str, int]:
        """In how many sets of labels each column has more than one entry."""
        differs = [(pl.col(name).min() != pl.col(name).max()).alias(name) for name in columns]
        sets = self._frame.select([*labels, *columns]).group_by(labels).agg(differs)
        return _counts(_asked(sets.select(pl.col(columns).sum())))

    def write(self, which: Which, path: Path) -> None:
        """Writes rows to a file of parquet or csv."""
        rows = self._frame.filter(which.told_to(pl))
        with ended(self.name), _stopped_once():
            rows.sink_csv(path) if path.suffix.lower() == ".csv" else rows.sink_parquet(path)


def _asked(query: pl.LazyFrame, told: Rows | None = None) -> pl.DataFrame:
    try:
        with _stopped_once():
            found: pl.DataFrame = held(lambda: query.collect(engine="streaming"))
    except TrialDataError as error:
        if told is not None and told.raised is not None:
            # What ended the query is whoever was told of it.
            raise told.raised from None
        raise _with_hint(error) from None
    return found


def _with_hint(error: TrialDataError) -> TrialDataError:
    """What to do about a query that failed: of a scanned file, whose types were guessed from its first rows."""
    reason = error.issues[0].reason
    if "could not parse" in reason:
        hint = "have the column read as text, with schema_overrides= or infer_schema=False where the file is scanned"
    else:
        hint = "put right what it says in the file or the query"
    return TrialDataError.of_input("unreadable", reason, f"{hint}, and load again")


def _free(names: Sequence[str], wanted: int) -> list[str]:
    """Names that no column has."""
    return [name for k in range(len(names) + wanted) if (name := f"count {k}") not in names][:wanted]


def _counts(row: pl.DataFrame) -> dict[str, int]:
    return {name: int(row.item(0, name) or 0) for name in row.columns}


@contextmanager
def _stopped_once() -> Iterator[None]:
    """Of Ctrl-C polars and Python both tell, and the second of them would come up later."""
    try:
        yield
    except KeyboardInterrupt:
        with suppress(KeyboardInterrupt):
            time.sleep(0.01)
        raise
