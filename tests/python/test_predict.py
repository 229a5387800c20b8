"""Predictions for new rows: every kind of table, exact refusals, and what the result carries."""

from __future__ import annotations

import pandas as pd
import polars as pl
import pyarrow as pa
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, CountError, ModelError, TrialDataError

ROWS = {"strength": [2500, 5000, 0], "rootstock": ["K12", "K17", "K30"]}


@pytest.fixture(scope="module")
def model() -> rl.models.Model:
    trial = rl.load_trial(
        rl.demo.factorial(seed=1),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
    )
    return trial.model(["strength", "rootstock"])


def test_every_kind_of_table_gives_the_same(model: rl.models.Model, tmp_path) -> None:
    levels = model.adjusted_rates("strength").table()["strength"].to_list()
    stocks = model.adjusted_rates("rootstock").table()["rootstock"].to_list()
    rows = {"strength": [int(levels[-1]), int(levels[0])], "rootstock": [stocks[0], stocks[-1]], "remark": ["a", "b"]}
    frame = pl.DataFrame(rows)
    frame.write_csv(tmp_path / "rows.csv")
    frame.write_parquet(tmp_path / "rows.parquet")
    wanted = model.predict(rows).table().drop("row")
    for given in (
        frame,
        frame.lazy(),
        pd.DataFrame(rows),
        pa.table(rows),
        tmp_path / "rows.csv",
        tmp_path / "rows.parquet",
        {**rows, "strength": [float(x) for x in rows["strength"]]},
    ):
        found = model.predict(given).table()
        assert found.drop("row").select(pl.exclude("strength")).equals(wanted.select(pl.exclude("strength")))
    assert model.predict(tmp_path / "rows.csv").table()["row"].to_list() == [2, 3]


def test_what_the_result_carries(model: rl.models.Model) -> None:
    found = model.predict({"strength": [0], "rootstock": ["K12"]}, new_tray=20, confidence=0.9)
    row = found.rows[0]
    assert 0 < row.low < row.value < row.high < 1
    assert 0 <= row.tray_low < row.tray_high <= 20
    assert found.table().columns[-2:] == ["tray_low", "tray_high"]
    assert "A new tray of 20 cuttings like row 1: 1 to 12 of them are expected to root" in " ".join(
        (found.sentence, *found.details)
    )
    assert [note.code for note in found.notes if note.code == "averaged_over_block"]
    assert rl.Result.from_json(found.to_json()) == found
    assert found.plot().axes
    assert "For expected rates of new rows" in found.methods
    assert found.made_with.options[0] == ("confidence", "0.9")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            {"strength": [0]},
            'there is no column "rootstock", which the model needs; add it; the columns are strength',
        ),
        (
            {"strength": [0, 2600], "rootstock": ["K12", "K12"]},
            'row 2, column "strength": the model does not know "2600"; the nearest it knows is "2500", of',
        ),
        (
            {"strength": [0], "rootstock": [None]},
            'row 1, column "rootstock": no value; the model knows K12',
        ),
        ({"strength": [], "rootstock": []}, "there are no rows to predict for; give at least one"),
        ({"strength": [float("nan")], "rootstock": ["K12"]}, 'row 1, column "strength": no value; the model knows 0'),
    ],
)
def test_rows_that_cannot_be_predicted(model: rl.models.Model, rows, words: str) -> None:
    with pytest.raises(TrialDataError) as found:
        model.predict(rows)
    assert str(found.value).startswith(words)
    assert found.value.issues


def test_options_that_cannot_be(model: rl.models.Model) -> None:
    row = {"strength": [0], "rootstock": ["K12"]}
    with pytest.raises(ModelError, match='a typical tray\'s rate comes from trays="random" only'):
        model.predict(row, rate_of="typical-tray")
    with pytest.raises(CountError, match="confidence 95 is not between 0 and 1"):
        model.predict(row, confidence=95)
    with pytest.raises(CountError, match="new_tray 0 is a tray without cuttings"):
        model.predict(row, new_tray=0)
    with pytest.raises(ChoiceError, match='choice of rates "mean" is not known; known: all-trays, typical-tray'):
        model.predict(row, rate_of="mean")  # type: ignore[arg-type]
    with pytest.raises(TrialDataError, match="42 is not a table"):
        model.predict(42)
