"""Every kind of mistake in rows of cuttings: where an engine counted them, the same is told and loaded as of frames."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import rootling as rl
from engines_held import ROLES, cuttings
from rootling.exceptions import TrialDataError

STRENGTH = rl.Strength("IBA", unit="mg/L", method="quick dip")


def _some(frame: pl.DataFrame, column: str, value: Any, rows: int = 9) -> pl.DataFrame:
    """The frame with a few of its rows once more, each with this entry."""
    return pl.concat([frame, frame.head(rows).with_columns(pl.lit(value).alias(column))], how="vertical_relaxed")


def _mistakes() -> dict[str, pl.DataFrame]:
    frame = cuttings()
    text = frame.with_columns(pl.col("strength").cast(pl.String))
    yes = pl.col("rooted") == "yes"
    blank = pl.DataFrame({name: [None] * 4 for name in frame.columns}, schema=frame.schema)
    date = pl.when(pl.col("strength") == "0").then(pl.lit("2026-02-01")).otherwise(pl.col("strength"))
    return {
        "percentages": frame.with_columns(rooted=pl.lit("75%")),
        "counts": frame.with_columns(rooted=pl.int_range(pl.len()) % 13),
        "crosses": frame.with_columns(rooted=pl.when(yes).then(pl.lit("x"))),
        "a two": _some(frame.with_columns(rooted=yes.cast(pl.Int64)), "rooted", 2),
        "a flag that is missing": _some(frame.with_columns(rooted=yes), "rooted", None),
        "thousands": _some(text, "strength", "2,500"),
        "negative": _some(frame, "strength", -5),
        "words": _some(text, "strength", "high"),
        "units": text.with_columns(pl.format("{} mg/L", pl.col("strength"))),
        "blank trays": _some(frame, "tray", None),
        "blank rows": pl.concat([frame, blank]),
        "gaps": _some(frame, "rooted", "n/a"),
        "case": _some(frame, "bench", "b0"),
        "mean": _some(frame, "tray", "Mean", 1),
        "total": _some(frame, "tray", "Total", 3),
        "two treatments": _some(frame, "strength", 7777),
        "numbers that start afresh": frame.with_columns(tray=pl.col("bench")),
        "ditto": _some(frame, "bench", "ditto"),
        "dates": text.with_columns(date.alias("strength")),
        "one level": frame.with_columns(strength=pl.lit(5)),
        "no rows": frame.head(0),
        "no number": _some(frame.with_columns(pl.col("strength").cast(pl.Float64)), "strength", float("nan")),
        "letters that look alike": _some(frame, "bench", "\u04120"),
        "none rooted": frame.with_columns(rooted=pl.lit("no")),
        "nothing": frame.with_columns(rooted=pl.lit(None, pl.String)),
    }


MISTAKES = _mistakes()


def _asked(table: Any, **more: Any) -> tuple[Any, ...]:
    """What loading says: the trial, or what is wrong."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rl.exceptions.RootlingWarning)
        try:
            trial = rl.load_trial(table, **ROLES, strength=STRENGTH, **more)
        except TrialDataError as error:
            told = [line for line in str(error).split("\n") if line.startswith("  ") and "load_trial(" not in line]
            return {one.code for one in error.issues} - {"more_rows"}, told
        notes = [note.text for note in trial.notes]
        return trial.fingerprint, notes, {one.code for one in trial.set_aside} - {"more_rows"}


@pytest.mark.parametrize("bad_rows", ["stop", "set-aside"])
@pytest.mark.parametrize("mistake", MISTAKES)
def test_what_is_wrong_is_the_same_whatever_holds_the_rows(mistake: str, bad_rows: str, tmp_path: Path) -> None:
    duckdb = pytest.importorskip("duckdb", reason="no DuckDB here: pip install duckdb")
    frame = MISTAKES[mistake]
    frame.write_parquet(tmp_path / "rows.parquet")
    relation = duckdb.sql(f"select * from '{tmp_path / 'rows.parquet'}'")
    wanted = _asked(frame, bad_rows=bad_rows)
    for table in (pl.scan_parquet(tmp_path / "rows.parquet"), relation):
        found = _asked(table, bad_rows=bad_rows)
        if len(wanted) == 2:
            assert found[0] <= wanted[0], "no other mistake than a frame has"
            assert found[0], "and one at least"
            assert len(found[1]) <= len(wanted[1])
        else:
            assert found == wanted


def test_rows_that_have_numbers_are_named_by_them() -> None:
    _, told = _asked(MISTAKES["negative"].lazy())
    height = cuttings().height
    first = ", ".join(str(height + k) for k in range(2, 7))
    assert told == [
        f'  row {height + 1}, column "strength": strength -5 is negative; a strength is 0 or more; correct the entry '
        f"(likewise in rows {first} and 3 more)"
    ]
    _, told = _asked(MISTAKES["counts"].lazy())
    assert told[0].startswith('  row 3, column "rooted": numbers such as 2, but no column with the number stuck')
    assert "likewise" not in told[0]
