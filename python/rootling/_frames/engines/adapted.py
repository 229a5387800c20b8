"""Tables of other engines, through the adapter library narwhals: DuckDB, Dask, Spark, Ibis and what else it knows."""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from rootling._frames.engines.ended import lost_workers, told
from rootling._frames.engines.which import Asked, Which
from rootling._given import shortened
from rootling.exceptions import TrialDataError

__all__ = ["ENGINES", "Adapted", "adapted"]

# Libraries whose tables are lazy, by the name under which they are imported.
ENGINES = {
    "duckdb": "DuckDB",
    "_duckdb": "DuckDB",
    "dask": "Dask",
    "pyspark": "Spark",
    "ibis": "Ibis",
    "sqlframe": "SQLFrame",
    "narwhals": "narwhals",
}
# Seconds between two looks at a cluster, and for how long it may be without a worker.
LOOK = 0.1
ALONE = 30.0

# What takes a name apart in a query: the dot stands between a table and its column.
MARKS = (".", '"', "`")

Progress = Callable[[int, int], object]


def adapted(data: Any, progress: Progress | None) -> Adapted:
    """The table of an engine that the adapter library knows."""
    library = type(data).__module__.split(".")[0]
    try:
        import narwhals as nw
    except ImportError:
        hint = 'install it with pip install "rootling[engines]", or give a frame of polars'
        reason = f"a table of {ENGINES[library]} is counted where it lies by way of narwhals, which is not installed"
        raise TrialDataError.of_input("no_adapter", reason, hint) from None
    native = nw.to_native(data, pass_through=True)
    library = type(native).__module__.split(".")[0]
    name = ENGINES.get(library, library)
    with warnings.catch_warnings(), told(name):
        # Of where its parts are to move.
        warnings.simplefilter("ignore", FutureWarning)
        try:
            native, plainly = _plainly_named(native, name)
            frame = nw.from_native(native).lazy()
        except (TypeError, AttributeError):
            hint = "give a table of it, such as a relation, a dataframe or a query"
            raise TrialDataError.of_input("unknown_input", f"{shortened(data)} is not a table", hint) from None
    return Adapted(frame, name, progress, plainly)


def _plainly_named(native: Any, engine: str) -> tuple[Any, dict[str, str]]:
    """The table with names that a language of queries does not take apart, and the plain name of each that it would."""
    if engine not in ("DuckDB", "Spark", "SQLFrame"):
        return native, {}
    names = [str(name) for name in native.columns]
    free = (name for k in count(1) if (name := f"column_{k}") not in names)
    plainly = {name: next(free) for name in names if any(mark in name for mark in MARKS)}
    if not plainly:
        return native, {}
    if engine == "DuckDB":
        quoted = [(_quoted(name), _quoted(plainly.get(name, name))) for name in names]
        return native.project(", ".join(f"{own} as {plain}" for own, plain in quoted)), plainly
    return native.toDF(*(plainly.get(name, name) for name in names)), plainly


def _quoted(name: str) -> str:
    doubled = name.replace('"', '""')
    return f'"{doubled}"'


class Adapted:
    """A lazy frame of the adapter library; rows stand in no order that an engine would keep."""

    numbered = False
    writes = (".parquet",)

    def __init__(self, frame: Any, name: str, progress: Progress | None, plainly: Mapping[str, str]) -> None:
        self.name = name
        self._frame = frame
        self._progress = progress
        self._plainly = plainly
        self._own = {plain: own for own, plain in plainly.items()}
        with told(name):
            self._schema = {self._own.get(one, one): dtype for one, dtype in frame.collect_schema().items()}

    def names(self) -> list[str]:
        """The columns."""
        return list(self._schema)

    def plain(self) -> list[str]:
        """Columns of numbers, text, dates and true/false."""
        import narwhals as nw

        kinds = (nw.Boolean, nw.String, nw.Categorical, nw.Date)
        return [name for name, dtype in self._schema.items() if dtype.is_numeric() or dtype in kinds]

    def told(self, done: int, parts: int) -> None:
        """Tells how far loading is, where a cluster does not tell of its tasks."""
        if self._progress is not None and self._client() is None:
            self._progress(done, parts)

    def height(self, most: int) -> int:
        """The number of rows."""
        import narwhals as nw

        found = self._asked(self._frame.select(nw.len().alias("rows")))
        return int(found["rows"].to_list()[0])

    def first(self, columns: Sequence[str], rows: int) -> Any:
        """So many rows, those that come first."""
        return self._asked(self._of(columns).head(rows))

    def listed(self, columns: Sequence[str]) -> Any:
        """The columns as they are."""
        return self._asked(self._of(columns))

    def counted(self, columns: Sequence[str], asked: Asked) -> Any:
        """A line for each set of rows that are alike; no row is the first of them."""
        import narwhals as nw

        lines = self._of(columns).group_by(*self._plain(columns)).agg(nw.len().alias(asked.times))
        return self._asked(lines.head(asked.most))

    def tallied(self, columns: Sequence[str], asked: Asked) -> None:
        """Yes and no are two lines here."""

    def values(self, columns: Sequence[str]) -> dict[str, int]:
        """How many different entries each column has."""
        import narwhals as nw

        found = self._asked(self._frame.select(*(nw.col(name).n_unique() for name in self._plain(columns))))
        return {name: int(found[name].to_list()[0]) for name in columns}

    def varying(self, labels: Sequence[str], columns: Sequence[str]) -> dict[str, int]:
        """In how many sets of labels each column has more than one entry."""
        import narwhals as nw

        plain, names = self._plain(labels), {}
        for at, name in enumerate(self._plain(columns)):
            names[name] = (f"least_{at}", f"largest_{at}")
        ends = [nw.col(name).min().alias(least) for name, (least, _) in names.items()]
        ends += [nw.col(name).max().alias(largest) for name, (_, largest) in names.items()]
        sets = self._frame.select(*plain, *names).group_by(*plain).agg(*ends)
        differs = [(nw.col(low) != nw.col(high)).cast(nw.Int64).alias(name) for name, (low, high) in names.items()]
        found = self._asked(sets.select(*differs).select(*(nw.col(name).sum() for name in names)))
        return {name: int(found[name].to_list()[0] or 0) for name in columns}

    def write(self, which: Which, path: Path) -> None:
        """Writes rows as parquet, in one file or in a folder of them, as the engine does."""
        import narwhals as nw

        plain = Which(
            {self._plainly.get(name, name): entries for name, entries in which.entries.items()},
            [{self._plainly.get(name, name): entry for name, entry in line.items()} for line in which.lines],
        )
        rows = self._frame.filter(plain.told_to(nw))
        with told(self.name):
            if self.name == "Dask":
                # Its own numbers of rows are no column of the table.
                rows.to_native().to_parquet(str(path), write_index=False)
            else:
                (rows.rename(self._own) if self._own else rows).sink_parquet(str(path))

    def _plain(self, columns: Sequence[str]) -> list[str]:
        return [self._plainly.get(name, name) for name in columns]

    def _of(self, columns: Sequence[str]) -> Any:
        return self._frame.select(*self._plain(columns))

    def _client(self) -> Any:
        return _client() if self.name == "Dask" else None

    def _asked(self, query: Any) -> Any:
        with told(self.name):
            client = self._client()
            if client is not None:
                return _waited_for(client, query.to_native(), self._progress)
            found = query.collect("pandas" if self.name == "Dask" else "polars").to_native()
            own = {plain: name for plain, name in self._own.items() if plain in found.columns}
            return found.rename(own) if own else found


def _client() -> Any:
    """The client of a Dask cluster; None where Dask works in this process."""
    with suppress(ImportError, ValueError):
        from distributed import get_client

        return get_client()
    return None


def _waited_for(client: Any, query: Any, progress: Progress | None) -> Any:
    """The answer of a cluster. Ctrl-C takes the query back; a cluster that stays without workers is given up."""
    future = client.compute(query)
    alone_since: float | None = None
    most = 0
    try:
        while not future.done():
            time.sleep(LOOK)
            workers = client.scheduler_info()["workers"]
            alone_since = None if workers else (alone_since or time.monotonic())
            if alone_since is not None and time.monotonic() - alone_since > ALONE:
                raise lost_workers("Dask")
            if progress is not None:
                most = _tell(client, most, progress)
        return future.result()
    except BaseException:
        with suppress(Exception):
            future.cancel()
        raise


def _tell(client: Any, most: int, progress: Progress) -> int:
    """Tells how many tasks are done, of the most that were seen."""
    open_tasks = sum(len(keys) for keys in client.processing().values())
    most = max(most, open_tasks)
    progress(most - open_tasks, most)
    return most
