"""Tables of other engines, through the adapter library narwhals: DuckDB, Dask, Spark, Ibis and what else it knows."""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable, Sequence
from contextlib import suppress
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
    with warnings.catch_warnings():
        # Of where its parts are to move.
        warnings.simplefilter("ignore", FutureWarning)
        try:
            frame = nw.from_native(native).lazy()
        except (TypeError, AttributeError):
            hint = "give a table of it, such as a relation, a dataframe or a query"
            raise TrialDataError.of_input("unknown_input", f"{shortened(data)} is not a table", hint) from None
    return Adapted(frame, ENGINES.get(library, library), progress)


class Adapted:
    """A lazy frame of the adapter library; rows stand in no order that an engine would keep."""

    numbered = False
    writes = (".parquet",)

    def __init__(self, frame: Any, name: str, progress: Progress | None) -> None:
        self.name = name
        self._frame = frame
        self._progress = progress
        with told(name):
            self._schema = frame.collect_schema()

    def names(self) -> list[str]:
        """The columns."""
        return list(self._schema.names())

    def plain(self) -> list[str]:
        """Columns of numbers, text, dates and true/false."""
        import narwhals as nw

        kinds = (nw.Boolean, nw.String, nw.Categorical, nw.Date)
        return [name for name, dtype in self._schema.items() if dtype.is_numeric() or dtype in kinds]

    def height(self, most: int) -> int:
        """The number of rows."""
        import narwhals as nw

        found = self._asked(self._frame.select(nw.len().alias("rows")))
        return int(found["rows"].to_list()[0])

    def first(self, columns: Sequence[str], rows: int) -> Any:
        """So many rows, those that come first."""
        return self._asked(self._frame.select(*columns).head(rows))

    def listed(self, columns: Sequence[str]) -> Any:
        """The columns as they are."""
        return self._asked(self._frame.select(*columns))

    def counted(self, columns: Sequence[str], asked: Asked) -> Any:
        """A line for each set of rows that are alike; no row is the first of them."""
        import narwhals as nw

        self._apart_from_tables(columns)
        lines = self._frame.select(*columns).group_by(*columns).agg(nw.len().alias(asked.times))
        return self._asked(lines.head(asked.most))

    def values(self, columns: Sequence[str]) -> dict[str, int]:
        """How many different entries each column has."""
        import narwhals as nw

        self._apart_from_tables(columns)
        found = self._asked(self._frame.select(*(nw.col(name).n_unique() for name in columns)))
        return {name: int(found[name].to_list()[0]) for name in columns}

    def varying(self, labels: Sequence[str], columns: Sequence[str]) -> dict[str, int]:
        """In how many sets of labels each column has more than one entry."""
        import narwhals as nw

        names = {name: (f"least {name}", f"largest {name}") for name in columns}
        ends = [nw.col(name).min().alias(names[name][0]) for name in columns]
        ends += [nw.col(name).max().alias(names[name][1]) for name in columns]
        sets = self._frame.select(*labels, *columns).group_by(*labels).agg(*ends)
        differs = [(nw.col(low) != nw.col(high)).cast(nw.Int64).alias(name) for name, (low, high) in names.items()]
        found = self._asked(sets.select(*differs).select(*(nw.col(name).sum() for name in columns)))
        return {name: int(found[name].to_list()[0] or 0) for name in columns}

    def write(self, which: Which, path: Path) -> None:
        """Writes rows as parquet, in one file or in a folder of them, as the engine does."""
        import narwhals as nw

        rows = self._frame.filter(which.told_to(nw))
        with told(self.name):
            if self.name == "Dask":
                # Its own numbers of rows are no column of the table.
                rows.to_native().to_parquet(str(path), write_index=False)
            else:
                rows.sink_parquet(str(path))

    def _apart_from_tables(self, columns: Sequence[str]) -> None:
        """Refuses names that a language of queries takes for a column of some table."""
        odd = next((name for name in columns if "." in name and self.name != "Dask"), None)
        if odd is not None:
            reason = f"{self.name} takes the dot in {odd!r} for that between a table and its column"
            raise TrialDataError.of_input(
                "dot_in_name", reason, "give the column another name in the query", column=odd
            )

    def _asked(self, query: Any) -> Any:
        with told(self.name):
            client = _client() if self.name == "Dask" else None
            if client is not None:
                return _waited_for(client, query.to_native(), self._progress)
            kind = "pandas" if self.name == "Dask" else "polars"
            return query.collect(kind).to_native()


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
