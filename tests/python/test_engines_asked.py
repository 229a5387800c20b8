"""Tables that an engine holds: what is asked beside counts, how far it is, and how one goes on after a mistake."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from engines_held import ROLES, cuttings, with_mistakes
from rootling import _core
from rootling._frames import counting, frames
from rootling.exceptions import ChoiceError, TrialDataError

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]
EVERY = ["scanned parquet", "DuckDB", "Dask", "Spark", "Ibis"]
LONG_CODES: dict[str, Any] = {"rooted": "rooted", "treatments": "strength", "tray": "tray"}


def duckdb_of(frame: pl.DataFrame) -> Any:
    """A relation of DuckDB."""
    duckdb = pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    return duckdb.connect().from_arrow(frame.to_arrow())


def stopped(table: Any, **more: Any) -> TrialDataError:
    """What loading stops with."""
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(table, **{**ROLES, **more})
    return found.value


def test_long_codes_keep_their_digits() -> None:
    codes = [10**17 + at // 10 for at in range(160)]
    rows = {"strength": [(at // 10) % 2 * 5000 for at in range(160)], "rooted": [at % 3 == 0 for at in range(160)]}
    wanted = rl.load_trial({**rows, "tray": [str(one) for one in codes]}, **LONG_CODES)
    for kind in (pl.Int64, pl.UInt64, pl.Decimal(38, 0), pl.Int128):
        frame = pl.DataFrame({**rows, "tray": pl.Series(codes, dtype=kind)})
        for table in (frame, frame.lazy()):
            assert rl.load_trial(table, **LONG_CODES).design.n_units == wanted.design.n_units == 16
    beyond = pl.DataFrame(
        {**rows, "tray": pl.Series([2**63 + one for one in range(16) for _ in range(10)], dtype=pl.UInt64)}
    )
    assert rl.load_trial(beyond, **LONG_CODES).design.n_units == 16


@pytest.mark.parametrize("outcome", [pl.Boolean, pl.Int8, pl.Int64])
@pytest.mark.parametrize("more", [{}, {"covariates": ["diameter"]}, {"tray": None}])
def test_yes_and_no_beside_each_other_are_the_same_trial(more: dict[str, Any], outcome: Any, monkeypatch: Any) -> None:
    frame = cuttings().with_columns(rooted=(pl.col("rooted") == "yes").cast(outcome))
    monkeypatch.setattr(counting, "LOOKED_AT", 50)
    sent: list[dict[str, Any]] = []
    from_stream = _core.trial.from_stream

    def seen(table: Any, source: Any, options: Any) -> Any:
        sent.append(options)
        return from_stream(table, source, options)

    monkeypatch.setattr(_core.trial, "from_stream", seen)
    roles = {**ROLES, **more}
    trial = rl.load_trial(frame.lazy(), **roles)
    assert [one.get("tallied") for one in sent] == [True]
    monkeypatch.setattr(_core.trial, "from_stream", from_stream)
    eager = rl.load_trial(frame, **roles)
    assert trial.fingerprint == eager.fingerprint
    assert trial.tray_counts().equals(eager.tray_counts())
    assert trial.compare("strength", 0, 2500).to_json() == eager.compare("strength", 0, 2500).to_json()
    assert trial.model(["strength"]).to_json() == eager.model(["strength"]).to_json()
    if "tray" in more:
        # Without trays a row of another strength contradicts no other.
        return
    wrong = pl.concat([frame, frame.head(3).with_columns(strength=pl.lit(-5, pl.Int64))])
    head = str(stopped(wrong, **more)).split("\n")[0]
    assert str(stopped(wrong.lazy(), **more)).split("\n")[0] == head


@pytest.mark.parametrize("source", EVERY)
def test_names_that_a_query_would_take_apart(source: str, held: Any, tmp_path: Path) -> None:
    named = {"strength": "dose.mg", "bench": 'the "bench"', "tray": "tray.no"}
    frame, roles = cuttings().rename(named), {**ROLES, "treatments": ["dose.mg"], "tray": "tray.no"}
    roles["block"] = 'the "bench"'
    eager = rl.load_trial(frame, **roles)
    assert rl.load_trial(held(source, frame), **roles).fingerprint == eager.fingerprint
    wrong = pl.concat([frame, frame.head(4).with_columns(pl.lit("?").alias("rooted"))])
    path = tmp_path / "aside.parquet"
    rl.load_trial(held(source, wrong), **roles, bad_rows="set-aside", set_aside_to=path)
    written = pl.read_parquet(path / "*.parquet" if path.is_dir() else path)
    assert written.height == 4
    assert sorted(written.columns) == sorted(frame.columns)


def test_what_an_engine_cannot_write(tmp_path: Path) -> None:
    with pytest.raises(ChoiceError, match=r"DuckDB writes parquet; write set_aside_to='.*rows\.parquet'"):
        rl.load_trial(duckdb_of(cuttings()), **ROLES, set_aside_to=tmp_path / "rows.csv", bad_rows="set-aside")


@pytest.mark.filterwarnings("ignore::rootling.exceptions.RootlingWarning")
@pytest.mark.parametrize("source", ["lazy frame", *EVERY])
def test_days_of_the_table_are_told_of_a_trial(source: str, held: Any, monkeypatch: Any) -> None:
    day = pl.lit(datetime(2026, 3, 2, 9)) + pl.duration(days=pl.col("strength") // 1000)
    frame = cuttings().with_columns(setting=day, reading=pl.lit(datetime(2026, 4, 13, 15)))
    about = {"set_date": "setting", "reading_date": "reading"}
    eager = rl.load_trial(frame, **ROLES, about=about)
    assert eager.about.ages["strength"] == {"0": (42, 42), "2500": (40, 40), "5000": (37, 37)}
    for rows in (frames.LOOKED_AT, 50):
        # As a long table that brings over no column which nobody named.
        monkeypatch.setattr(counting, "LOOKED_AT", rows)
        trial = rl.load_trial(held(source, frame), **ROLES, about=about)
        assert trial.about == eager.about
        assert trial.fingerprint == eager.fingerprint
        if source in ("Spark", "Dask"):
            break
    early = frame.with_columns(reading=pl.col("setting") - timedelta(days=3))
    with pytest.raises(ChoiceError, match="some rows were read before they were set"):
        rl.load_trial(held(source, early), **ROLES, about=about)


def test_days_of_trays_are_told_too(held: Any) -> None:
    sheet = rl.demo.two_strengths(seed=1).with_columns(setting=pl.lit(datetime(2026, 3, 2, 9)))
    about = {"set_date": "setting", "reading_date": "2026-04-13"}
    eager = rl.load_trial(sheet, **ROLES, stuck="stuck", about=about)
    for source in ("lazy frame", "DuckDB"):
        trial = rl.load_trial(held(source, sheet), **ROLES, stuck="stuck", about=about)
        assert (trial.about, trial.fingerprint) == (eager.about, eager.fingerprint)


def test_a_closed_connection_is_one_sentence() -> None:
    duckdb = pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    connection = duckdb.connect()
    relation = connection.from_arrow(cuttings().to_arrow())
    connection.close()
    (issue,) = stopped(relation).issues
    assert issue.code == "closed_connection"
    assert issue.reason == "the connection or session of DuckDB that holds the table is closed"
    assert issue.hint == "open it again, make the table anew and load that"


def test_a_query_that_fails_is_one_sentence() -> None:
    relation = (
        duckdb_of(cuttings()).project("*").project("case when strength > 0 then error('no such batch') end as x, *")
    )
    (issue,) = stopped(relation, covariates=["x"]).issues
    assert (issue.code, issue.hint) == ("engine_failed", "put right what it says in the table or the query")
    assert issue.reason == "DuckDB could not answer (Invalid Input Error: no such batch)"


def _lost_file(part: int) -> Any:
    if part == 2:
        raise ValueError("no such file: rows-2.csv")
    return cuttings().to_pandas().iloc[part::3]


def _ends(part: int) -> Any:
    import os

    os._exit(1)


def test_a_worker_that_fails_is_one_sentence(cluster: Any) -> None:
    import dask.dataframe as dd

    meta = cuttings().to_pandas().iloc[:0]
    (issue,) = stopped(dd.from_map(_lost_file, range(3), meta=meta)).issues
    assert (issue.code, issue.reason) == ("engine_failed", "Dask could not answer (no such file: rows-2.csv)")
    (issue,) = stopped(dd.from_map(_ends, range(1), meta=meta)).issues
    assert (issue.code, issue.reason) == ("lost_workers", "the workers of Dask that counted the rows were lost")
    assert "start the cluster again" in issue.hint


@pytest.mark.filterwarnings("ignore:PySpark does not yet fully support pandas:FutureWarning")
def test_a_query_of_spark_that_fails_is_one_sentence(spark: Any) -> None:
    table = spark.createDataFrame(cuttings().to_pandas()).selectExpr("*", "cast(bench as bigint) as place")
    (issue,) = stopped(table, block="place").issues
    assert issue.code == "engine_failed"
    assert issue.reason.startswith("Spark could not answer (")
    assert "\n" not in issue.reason


@pytest.mark.parametrize("source", ["lazy frame", "DuckDB"])
def test_the_line_that_goes_on_is_tried_on_what_came_over(source: str, held: Any) -> None:
    few = pl.concat([cuttings(), cuttings().head(40).with_columns(rooted=pl.lit("?"))])
    error = stopped(held(source, few), bad_rows="stop")
    head, line = str(error).split("\n")[-2:]
    assert head == "Once you agree, this line goes on, with your data for ...:"
    assert line.strip() == error.paste
    assert "bad_rows='set-aside'" in line
    trial = eval(error.paste.removeprefix("trial = ").replace("...", "table"), {"rl": rl, "table": held(source, few)})
    assert trial.fingerprint == rl.load_trial(few, **ROLES, bad_rows="set-aside").fingerprint
    assert len(trial.set_aside) <= 6
    many = pl.concat([cuttings(), cuttings().with_columns(rooted=pl.lit("?"))])
    text = str(stopped(held(source, many)))
    assert "Once that is put right, this line loads it, with your data for ...:" in text
    gone = cuttings().with_columns(
        rooted=pl.when(pl.col("strength") == 0).then(pl.lit("?")).otherwise(pl.col("rooted"))
    )
    assert "Once you agree" not in str(stopped(held(source, gone)))


@pytest.mark.parametrize("source", ["lazy frame", "DuckDB"])
def test_an_answer_to_a_question_is_in_the_line(source: str, held: Any) -> None:
    one = cuttings().with_columns(strength=pl.lit(5))
    error = stopped(held(source, one))
    assert error.paste is not None
    assert 'checked=["one_level"]' in error.paste.replace("'", '"')


def test_trays_of_an_engine_have_their_line_too(held: Any) -> None:
    sheet = rl.demo.two_strengths(seed=1)
    sheet = sheet.with_columns(rooted=pl.when(pl.col("tray") == sheet["tray"][0]).then(99).otherwise("rooted"))
    error = stopped(held("DuckDB", sheet), stuck="stuck")
    assert error.paste is not None
    assert "bad_rows='set-aside'" in error.paste


def test_set_aside_says_how_many_and_where_all_can_be_written(held: Any) -> None:
    written = 'set_aside_to="rows.parquet" beside bad_rows="set-aside" has all of them written'
    for source, said in (
        ("lazy frame", '35 more rows have the problem "not_yes_no", beyond the first 5: 40 in all'),
        ("DuckDB", '40 rows have the problem "not_yes_no"'),
    ):
        trial = rl.load_trial(held(source, with_mistakes()), **ROLES, bad_rows="set-aside")
        more = next(one for one in trial.set_aside if one.code == "more_rows" and one.column == "rooted")
        assert more.reason == said
        assert more.hint == f"what holds for those named holds for them; {written}"


@pytest.mark.parametrize("source", ["lazy frame", "DuckDB"])
def test_how_far_loading_is(source: str, held: Any) -> None:
    told: list[tuple[int, int]] = []

    def tell(done: int, parts: int) -> None:
        told.append((done, parts))

    rl.load_trial(held(source, cuttings()), **ROLES, progress=tell)
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]
    told.clear()
    crop = rl.demo.weekly_batches(seed=1)
    named = {"batch": "batch", "started": "started", "alive": "alive", "set_date": "set", "reading_date": "read"}
    rl.watch.load(held(source, crop), **named, cultivars="rootstock", places="room", season="season", progress=tell)
    assert told == [(1, 2), (2, 2)]
    told.clear()
    plants = pl.DataFrame({"batch": [f"b{k % 9}" for k in range(90)], "last": ["grafted", "taken", "rooted"] * 30})
    chain = {"steps": ["grafted", "taken", "rooted"], "batch": "batch", "last_step": "last"}
    rl.steps.load(held(source, plants), **chain, progress=tell)
    assert told[-1][0] <= told[-1][1]
    told.clear()
    seen = pl.DataFrame(
        {"tray": ["a", "a", "b", "b"], "day": [14, 28] * 2, "started": [20] * 4, "rooted": [3, 11, 2, 9]}
    )
    columns = {name: name for name in seen.columns}
    rl.steps.visits(held(source, seen), **columns, progress=tell)
    assert told == [(1, 2), (2, 2)]
    with pytest.raises(ChoiceError, match="progress=3 cannot be called; write progress=print"):
        rl.watch.load(crop, **named, progress=3)
