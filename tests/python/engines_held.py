"""Invented cuttings, and tables of them in the hands of every engine."""

from __future__ import annotations

import importlib.util
import random
import shutil
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest

ROLES: dict[str, Any] = {"rooted": "rooted", "treatments": ["strength"], "tray": "tray", "block": "bench"}
SOURCES = ["lazy frame", "scanned parquet", "scanned csv", "DuckDB", "Dask", "Spark", "Ibis"]


def cuttings(seed: int = 1, *, shuffled: bool = True) -> pl.DataFrame:
    """One row per cutting: six benches of four trays with 20 to 30, some of which died; a column nobody names."""
    draw = random.Random(seed)
    rows = []
    for tray in range(24):
        strength, rate = (0, 2500, 5000, 2500)[tray % 4], draw.uniform(0.1, 0.9)
        for _ in range(draw.randint(20, 30)):
            rooted = draw.random() < rate
            dead = not rooted and draw.random() < 0.2
            rows.append((strength, f"B{tray // 4}", f"T{tray}", "yes" if rooted else "no", int(dead), 1.5 + tray % 3))
    if shuffled:
        draw.shuffle(rows)
    return pl.DataFrame(rows, schema=["strength", "bench", "tray", "rooted", "dead", "diameter"], orient="row")


def with_mistakes() -> pl.DataFrame:
    """The same with entries that cannot be."""
    frame = cuttings()
    wrong = frame.head(40).with_columns(rooted=pl.lit("?"))
    blank = frame.slice(3, 3).with_columns(tray=pl.lit(None, pl.String))
    moved = frame.filter(pl.col("tray") == "T1").head(7).with_columns(strength=pl.lit(0, pl.Int64))
    return pl.concat([frame, wrong, blank, moved])


@pytest.fixture(scope="session")
def cluster() -> Iterator[Any]:
    """A Dask cluster of two worker processes on this machine."""
    distributed = pytest.importorskip("distributed", reason="no Dask here: pip install 'dask[distributed]'")
    options = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": ":0"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(**options) as held, distributed.Client(held) as client:
            yield client


@pytest.fixture(scope="session")
def spark() -> Iterator[Any]:
    """Spark in local mode."""
    if importlib.util.find_spec("pyspark") is None:
        pytest.skip("no Spark here: pip install pyspark")
    if shutil.which("java") is None:
        pytest.skip("Spark needs Java, and there is none on this machine")
    from pyspark.sql import SparkSession

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        built = SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false")
        session = built.config("spark.sql.shuffle.partitions", "2").getOrCreate()
        session.sparkContext.setLogLevel("ERROR")
        yield session
        session.stop()


def _duckdb(path: Path) -> Any:
    duckdb = pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    return duckdb.sql(f"select * from '{path}'")


def _dask(path: Path) -> Any:
    import dask.dataframe as dd

    return dd.read_parquet(path).repartition(npartitions=3)


def _ibis(path: Path) -> Any:
    ibis = pytest.importorskip("ibis", reason="no Ibis here: pip install 'ibis-framework[duckdb]'")
    return ibis.duckdb.connect().read_parquet(path)


@pytest.fixture
def held(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[str, pl.DataFrame], Any]:
    """A table in the hands of an engine."""

    def made(source: str, frame: pl.DataFrame) -> Any:
        path = tmp_path / f"{random.random()}.parquet"
        frame.write_parquet(path)
        if source == "lazy frame":
            return frame.lazy()
        if source == "scanned csv":
            frame.write_csv(path.with_suffix(".csv"))
            return pl.scan_csv(path.with_suffix(".csv"))
        if source == "Dask":
            request.getfixturevalue("cluster")
        if source == "Spark":
            return request.getfixturevalue("spark").read.parquet(str(path))
        return {"scanned parquet": pl.scan_parquet, "DuckDB": _duckdb, "Dask": _dask, "Ibis": _ibis}[source](path)

    return made
