"""Tables that an engine holds: the trial is that of a frame, whatever holds the rows; each mistake is one sentence."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from engines_held import ROLES, SOURCES, cuttings, with_mistakes
from rootling._frames import counting, frames
from rootling._frames.engines import adapted
from rootling.exceptions import ChoiceError, TrialDataError

pytestmark = [
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


def answers(trial: rl.Trial) -> list[str]:
    """What a trial says, as records."""
    model = trial.model(["strength"])
    asked = [trial.take_rates("strength"), trial.compare("strength", 0, 2500), trial.compare_all("strength")]
    return [one.to_json() for one in (*asked, trial.association("strength"), model.what_matters(), model.odds_ratios())]


@pytest.mark.parametrize("source", SOURCES)
def test_a_trial_is_the_same_whatever_holds_its_rows(source: str, held: Any) -> None:
    several: list[dict[str, Any]] = [
        {},
        {"dead": "dead"},
        {"rooted": "dead"},
        {"covariates": ["diameter"]},
        {"tray": None},
        {"tray": ["bench", "tray"]},
    ]
    # Clusters take their time.
    for more in several[: {"Spark": 2, "Dask": 4}.get(source)]:
        roles = {**ROLES, **more}
        eager = rl.load_trial(cuttings(), **roles)
        trial = rl.load_trial(held(source, cuttings()), **roles)
        assert trial.fingerprint == eager.fingerprint
        assert (repr(trial), trial.notes, trial.issues) == (repr(eager), eager.notes, eager.issues)
        assert trial.tray_counts().equals(eager.tray_counts())
        assert answers(trial) == answers(eager)
        assert trial.frame.height < eager.frame.height


@pytest.mark.parametrize("source", ["scanned parquet", "DuckDB"])
def test_a_long_table_is_the_same_trial_too(source: str, held: Any) -> None:
    """Longer than what is looked through for columns that nobody named."""
    parts = [cuttings(seed).with_columns(bench=pl.format("{}{}", "bench", pl.lit(seed))) for seed in range(40)]
    long = pl.concat(parts)
    eager, trial = (rl.load_trial(one, **ROLES) for one in (long, held(source, long)))
    assert long.height > frames.LOOKED_AT
    assert (trial.fingerprint, repr(trial), trial.notes) == (eager.fingerprint, repr(eager), eager.notes)


@pytest.mark.parametrize("source", SOURCES)
def test_counts_of_trays_are_listed_by_the_engine(source: str, held: Any) -> None:
    sheet = rl.demo.two_strengths(seed=1)
    roles = {**ROLES, "stuck": "stuck"}
    eager = rl.load_trial(sheet, **roles)
    trial = rl.load_trial(held(source, sheet), **roles)
    assert trial.fingerprint == eager.fingerprint
    assert trial.compare("strength", 2500, 5000).to_json() == eager.compare("strength", 2500, 5000).to_json()


def test_gaps_make_no_other_trial(held: Any) -> None:
    """A gap among whole numbers makes them decimals in some engines, and text of some flags."""
    frame = cuttings().with_columns(rooted=pl.col("rooted") == "yes")
    gaps = pl.concat([frame, frame.head(5).with_columns(strength=pl.lit(None, pl.Int64))])
    gaps = pl.concat([gaps, frame.head(5).with_columns(rooted=pl.lit(None, pl.Boolean))])
    eager = rl.load_trial(gaps, **ROLES, bad_rows="set-aside")
    for source in ("lazy frame", "DuckDB", "Dask"):
        assert rl.load_trial(held(source, gaps), **ROLES, bad_rows="set-aside").fingerprint == eager.fingerprint


@pytest.mark.parametrize("source", ["lazy frame", "DuckDB", "Dask"])
def test_rows_set_aside_are_counted(source: str, held: Any) -> None:
    eager = rl.load_trial(with_mistakes(), **ROLES, bad_rows="set-aside")
    trial = rl.load_trial(held(source, with_mistakes()), **ROLES, bad_rows="set-aside")
    assert trial.fingerprint == eager.fingerprint
    assert repr(trial) == repr(eager)
    assert [note.text for note in trial.notes] == [note.text for note in eager.notes]


def test_mistakes_are_told_with_the_numbers_of_rows(held: Any) -> None:
    with pytest.raises(TrialDataError) as eager:
        rl.load_trial(with_mistakes(), **ROLES)
    with pytest.raises(TrialDataError) as lazy:
        rl.load_trial(held("scanned parquet", with_mistakes()), **ROLES)
    head = str(eager.value).split("\n")[0]
    assert str(lazy.value).split("\n")[0] == head
    height = cuttings().height
    line = next(line for line in str(lazy.value).split("\n") if "not say whether" in line)
    assert line.startswith(
        f'  row {height + 1}, column "rooted": "?" does not say whether the cutting rooted; use 1 or 0'
    )
    assert "more" in line
    first = {one.row for one in eager.value.issues if one.code == "not_yes_no"}
    assert {one.row for one in lazy.value.issues if one.code == "not_yes_no"} <= first
    more = next(one for one in lazy.value.issues if one.code == "more_rows" and one.column == "rooted")
    assert int(more.value or 0) + 5 == 40


def test_mistakes_are_told_by_what_rows_hold_where_they_have_no_numbers(held: Any) -> None:
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(held("DuckDB", with_mistakes()), **ROLES)
    text = str(found.value)
    assert 'column "rooted": "?" does not say whether the cutting rooted, where strength is ' in text
    assert "(40 rows in all)" in text
    assert 'tray "T1" appears under 2 treatments (0; 2500), in ' in text
    assert " row 1" not in text
    assert all(one.row is None and "leave_out" not in (one.paste or "") for one in found.value.issues)
    assert next(one.value for one in found.value.issues if one.code == "more_rows" and one.column == "rooted") == "40"


def test_what_is_seen_in_levels_is_asked_of_any_engine(held: Any) -> None:
    twins = cuttings().with_columns(bench=pl.when(pl.col("tray") == "T0").then(pl.lit("b0")).otherwise(pl.col("bench")))
    total = pl.concat([cuttings(), cuttings().head(1).with_columns(tray=pl.lit("Total"))])
    for frame, code in ((twins, "similar_levels"), (total, "total_row")):
        for source in ("lazy frame", "DuckDB"):
            with pytest.raises(TrialDataError) as found:
                rl.load_trial(held(source, frame), **ROLES)
            assert code in {one.code for one in found.value.issues}


def test_a_column_that_is_not_there_is_named(held: Any) -> None:
    for source in ("scanned parquet", "DuckDB"):
        with pytest.raises(TrialDataError, match="there is no column"):
            rl.load_trial(held(source, cuttings()), **{**ROLES, "tray": "trays"})


@pytest.mark.parametrize("source", ["scanned parquet", "DuckDB", "Dask", "Spark", "Ibis"])
def test_rows_set_aside_are_written_where_asked(source: str, held: Any, tmp_path: Path) -> None:
    path = tmp_path / "aside.parquet"
    rl.load_trial(held(source, with_mistakes()), **ROLES, bad_rows="set-aside", set_aside_to=path)
    eager = rl.load_trial(with_mistakes(), **ROLES, bad_rows="set-aside")
    rows = {one.row for one in eager.set_aside}
    assert pl.read_parquet(path / "*.parquet" if path.is_dir() else path).height == len(rows)
    assert not list(tmp_path.glob(".*"))
    with pytest.raises(ChoiceError, match="is there already"):
        rl.load_trial(held(source, with_mistakes()), **ROLES, bad_rows="set-aside", set_aside_to=path)


def test_trays_set_aside_are_written_too(held: Any, tmp_path: Path) -> None:
    rooted = pl.when(pl.col("tray") == "T03").then(99).otherwise("rooted")
    sheet = rl.demo.two_strengths(seed=1).with_columns(
        rooted=rooted, bench=pl.date(2026, 1, pl.col("bench").str.slice(1).cast(pl.Int8))
    )
    for source in ("scanned parquet", "DuckDB"):
        path = tmp_path / f"{source}.parquet"
        trial = rl.load_trial(held(source, sheet), **ROLES, stuck="stuck", bad_rows="set-aside", set_aside_to=path)
        assert pl.read_parquet(path)["tray"].to_list() == ["T03"]
        assert trial.design.n_units == 11


def test_nothing_half_made_is_left_where_the_disk_is_full(held: Any, tmp_path: Path, monkeypatch: Any) -> None:
    def full(self: Any, path: Path) -> None:
        Path(path).write_bytes(b"half")
        raise OSError(28, "No space left on device")

    import narwhals as nw

    tables = [held(source, with_mistakes()) for source in ("scanned parquet", "DuckDB")]
    monkeypatch.setattr(nw.LazyFrame, "sink_parquet", full)
    monkeypatch.setattr(pl.LazyFrame, "sink_parquet", full)
    for table in tables:
        with pytest.raises(TrialDataError) as found:
            rl.load_trial(table, **ROLES, bad_rows="set-aside", set_aside_to=tmp_path / "aside.parquet")
        assert found.value.issues[0].code == "disk_full"
        assert not [path for path in tmp_path.iterdir() if "aside" in path.name]


def test_columns_of_many_values_are_refused_before_they_come_over(held: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(counting, "MOST", 200)
    monkeypatch.setattr(counting, "FEW", 5)
    lengths = cuttings().with_columns(length=pl.int_range(pl.len()) / 7, name=pl.format("C{}", pl.int_range(pl.len())))
    for source in ("scanned parquet", "DuckDB"):
        for option in ({"covariates": ["length"]}, {"tray": None, "covariates": ["length"]}, {"tray": "name"}):
            with pytest.raises(TrialDataError) as found:
                rl.load_trial(held(source, lengths), **{**ROLES, **option})
            (issue,) = found.value.issues
            assert (issue.code, issue.column) == ("too_many_values", option.get("covariates", ["name"])[0])
            assert "give each tray one value of it" in str(found.value)
        eager = rl.load_trial(cuttings(), **ROLES, covariates=["diameter"])
        trial = rl.load_trial(held(source, lengths), **ROLES, covariates=["diameter"])
        assert trial.fingerprint == eager.fingerprint


def test_a_table_of_more_trays_than_a_trial_can_hold_is_refused(held: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(frames, "MOST", 10)
    with pytest.raises(TrialDataError, match="the table has more than 10 rows, and each would be a unit") as found:
        rl.load_trial(held("DuckDB", rl.demo.two_strengths(seed=1)), **ROLES, stuck="stuck")
    assert found.value.issues[0].code == "too_many_rows"


def test_what_rests_on_the_order_of_rows_is_refused(held: Any) -> None:
    table = held("DuckDB", cuttings())
    for option in ({"fill_down": ["bench"]}, {"leave_out": [3]}, {"tray": "each-row"}):
        with pytest.raises(ChoiceError, match="keeps no order"):
            rl.load_trial(table, **{**ROLES, **option})
    with pytest.raises(ChoiceError, match="counted without their order"):
        rl.load_trial(cuttings().lazy(), **ROLES, leave_out=[3])
    with pytest.raises(ChoiceError, match="is for files"):
        rl.load_trial(table, **ROLES, sheet="K12")


def test_counted_lines_are_loaded_by_times() -> None:
    labels, yes = ["strength", "bench", "tray"], (pl.col("rooted") == "yes").sum()
    lines = cuttings().group_by(*labels, "rooted").len(name="n")
    sheet = cuttings().group_by(labels).agg(yes, pl.len().alias("stuck"))
    one_by_one = rl.load_trial(cuttings(), **ROLES)
    assert rl.load_trial(lines, **ROLES, times="n").fingerprint == one_by_one.fingerprint
    assert rl.load_trial(sheet, **ROLES, stuck="stuck").fingerprint == one_by_one.fingerprint
    with pytest.raises(TrialDataError, match="times= says how many cuttings a row stands for"):
        rl.load_trial(rl.demo.two_strengths(seed=1), **ROLES, stuck="stuck", times="rootstock")


def test_a_trial_of_an_engine_comes_back_from_a_pickle(held: Any) -> None:
    import pickle

    trial = rl.load_trial(held("DuckDB", with_mistakes()), **ROLES, bad_rows="set-aside")
    again = pickle.loads(pickle.dumps(trial))
    assert (again.fingerprint, again.set_aside, repr(again)) == (trial.fingerprint, trial.set_aside, repr(trial))


ENDS = {
    "disk_full": OSError(28, "No space left on device"),
    "lost_workers": type("KilledWorker", (Exception,), {})("attempted to run on 4 workers that died"),
    "engine_memory": RuntimeError("Out of Memory Error: failed to allocate data of size 2.0 GiB"),
    "engine_failed": RuntimeError("Conversion Error: could not read\nLINE 1"),
}


@pytest.mark.parametrize("code", ENDS)
def test_what_ends_a_query_is_one_sentence(code: str, held: Any, monkeypatch: Any) -> None:
    import narwhals as nw

    def fails(*_: Any, **__: Any) -> None:
        raise ENDS[code]

    table = held("DuckDB", cuttings())
    monkeypatch.setattr(nw.LazyFrame, "collect", fails)
    with pytest.raises(TrialDataError) as found:
        rl.load_trial(table, **ROLES)
    (issue,) = found.value.issues
    assert issue.code == code
    assert "DuckDB" in issue.reason or code == "lost_workers"
    assert "\n" not in issue.reason


def test_what_is_no_table_of_an_engine_is_refused() -> None:
    duckdb = pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    with pytest.raises(TrialDataError, match="is not a table") as found:
        rl.load_trial(duckdb.connect(), **ROLES)
    assert found.value.issues[0].code == "unknown_input"


def test_without_the_adapter_the_way_on_is_said(held: Any, monkeypatch: Any) -> None:
    table = held("DuckDB", cuttings())
    monkeypatch.setitem(sys.modules, "narwhals", None)
    with pytest.raises(TrialDataError, match=r'pip install "rootling\[engines\]"') as found:
        rl.load_trial(table, **ROLES)
    assert found.value.issues[0].code == "no_adapter"


def test_a_crop_and_a_chain_are_the_same_whatever_holds_them(held: Any) -> None:
    crop = rl.demo.weekly_batches(seed=1)
    named = {"batch": "batch", "started": "started", "alive": "alive", "set_date": "set", "reading_date": "read"}
    named |= {"cultivars": "rootstock", "places": "room", "season": "season"}
    plants = pl.DataFrame({"batch": [f"b{k % 9}" for k in range(900)], "last": ["grafted", "taken", "rooted"] * 300})
    chain = {"steps": ["grafted", "taken", "rooted"], "batch": "batch", "last_step": "last"}
    watch, steps = rl.watch.load(crop, **named), rl.steps.load(plants, **chain)
    for source in ("scanned parquet", "DuckDB", "Dask", "Spark"):
        assert rl.watch.load(held(source, crop), **named).fingerprint == watch.fingerprint
        found = rl.steps.load(held(source, plants), **chain)
        assert (found.fingerprint, found.yields().to_json()) == (steps.fingerprint, steps.yields().to_json())
    wrong = plants.with_columns(last=pl.when(pl.col("batch") == "b3").then(pl.lit("potted")).otherwise(pl.col("last")))
    with pytest.raises(
        TrialDataError, match=r'"potted" is no step of the chain, where batch is "b3"; .*\(100 rows in all\)'
    ):
        rl.steps.load(held("DuckDB", wrong), **chain)


def _slowly(part: int) -> Any:
    """A third of the cuttings, after a while."""
    time.sleep(1.5)
    return cuttings().to_pandas().iloc[part::3]


def test_a_worker_killed_in_the_middle_changes_nothing(cluster: Any) -> None:
    import dask.dataframe as dd

    told: list[tuple[int, int]] = []
    lazy = dd.from_map(_slowly, range(3), meta=cuttings().to_pandas().iloc[:0])
    pid = next(iter(cluster.run(os.getpid).values()))

    def strike(done: int, everything: int) -> None:
        if not told:
            os.kill(pid, signal.SIGKILL)
        told.append((done, everything))

    trial = rl.load_trial(lazy, **ROLES, progress=strike)
    assert trial.fingerprint == rl.load_trial(cuttings(), **ROLES).fingerprint
    assert told
    assert all(0 <= done <= everything for done, everything in told)


def test_a_cluster_without_workers_is_given_up_in_a_sentence(monkeypatch: Any) -> None:
    distributed = pytest.importorskip("distributed", reason="no Dask here: pip install 'dask[distributed]'")
    import dask.dataframe as dd

    monkeypatch.setattr(adapted, "ALONE", 0.5)
    options = {"n_workers": 0, "processes": True, "dashboard_address": ":0"}
    with distributed.LocalCluster(**options) as held, distributed.Client(held, set_as_default=True):
        lazy = dd.from_pandas(cuttings().to_pandas(), npartitions=2)
        with pytest.raises(TrialDataError, match="workers of Dask that counted the rows were lost"):
            rl.load_trial(lazy, **ROLES)


INTERRUPTED = """
import os, signal, sys, threading, time
import polars as pl
import rootling as rl

rows = pl.LazyFrame({"k": range(3000)}).join(pl.LazyFrame({"j": range(20000)}), how="cross")
rows = rows.select(tray=(pl.col("k") * 7 + pl.col("j")) % 100_000, strength=pl.col("k") % 3, rooted=pl.col("j") % 2)
if sys.argv[1] == "DuckDB":
    import duckdb
    rows = duckdb.sql("select (a.range * 7 + b.range) % 100000 as tray, a.range % 3 as strength, b.range % 2 as rooted "
                      "from range(30000) a, range(200000) b")
threading.Timer(1.0, os.kill, (os.getpid(), signal.SIGINT)).start()
began = time.monotonic()
try:
    rl.load_trial(rows, rooted="rooted", treatments="strength", tray="tray", bad_rows="set-aside")
    print("not stopped")
except KeyboardInterrupt:
    print("stopped", time.monotonic() - began < 8)
frame = pl.LazyFrame({"strength": [0, 0, 1, 1], "tray": list("abcd"), "rooted": [1, 2, 3, 4], "stuck": [9] * 4})
trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray")
print(trial.design.n_units)
"""


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent as it is on POSIX systems")
@pytest.mark.parametrize("source", ["polars", "DuckDB"])
def test_ctrl_c_stops_the_query(source: str) -> None:
    if source == "DuckDB":
        pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    command = [sys.executable, "-W", "ignore", "-c", INTERRUPTED, source]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert ran.stdout.split() == ["stopped", "True", "4"], ran.stdout + ran.stderr
