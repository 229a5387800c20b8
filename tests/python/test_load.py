"""Whatever holds a table loads to the same trial, and is left as it was."""

from __future__ import annotations

from typing import Any

import pandas as pd
import polars as pl
import pytest
import rootling as rl
from conftest import ROLES


def _as_csv(frame, folder):
    frame.write_csv(folder / "trial.csv")
    return folder / "trial.csv"


def _as_semicolon_csv(frame, folder):
    frame.write_csv(folder / "trial.csv", separator=";", include_bom=True)
    return str(folder / "trial.csv")


def _as_tab_csv(frame, folder):
    frame.write_csv(folder / "trial.tsv", separator="\t")
    return folder / "trial.tsv"


def _as_parquet(frame, folder):
    frame.write_parquet(folder / "trial.parquet")
    return folder / "trial.parquet"


def _as_xlsx(frame, folder):
    frame.write_excel(folder / "trial.xlsx")
    return folder / "trial.xlsx"


FORMS: dict[str, Any] = {
    "csv": _as_csv,
    "semicolon csv": _as_semicolon_csv,
    "tab csv": _as_tab_csv,
    "parquet": _as_parquet,
    "xlsx": _as_xlsx,
    "polars": lambda frame, _: frame,
    "lazy polars": lambda frame, _: frame.lazy(),
    "pandas": lambda frame, _: pd.DataFrame(frame.to_dict(as_series=False)),
    "pandas with categories": lambda frame, _: pd.DataFrame(frame.to_dict(as_series=False)).astype(
        {"bench": "category"}
    ),
    "pyarrow": lambda frame, _: frame.to_arrow(),
    "dictionary": lambda frame, _: frame.to_dict(as_series=False),
    "dictionary of arrays": lambda frame, _: {name: frame[name].to_numpy() for name in frame.columns},
    "categories": lambda frame, _: frame.with_columns(
        pl.col("bench").cast(pl.Categorical), pl.col("tray").cast(pl.Categorical)
    ),
    "small integers": lambda frame, _: frame.with_columns(pl.col("rooted", "stuck").cast(pl.UInt8)),
    "floats": lambda frame, _: frame.with_columns(pl.col("rooted", "stuck").cast(pl.Float32)),
    "pieces": lambda frame, _: pl.concat([frame.head(5), frame.slice(5)], rechunk=False),
    "columns in different pieces": lambda frame, _: pl.concat(
        [frame.head(3), frame.slice(3)], rechunk=False
    ).with_columns(frame["strength"], pl.concat([frame["tray"].head(4), frame["tray"].slice(4)], rechunk=False)),
    "shuffled": lambda frame, _: frame.sample(fraction=1.0, shuffle=True, seed=3),
}


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_same_trial(form: str, frame: pl.DataFrame, tmp_path) -> None:
    want = rl.load_trial(frame, **ROLES)
    got = rl.load_trial(FORMS[form](frame, tmp_path), **ROLES)
    assert got.fingerprint == want.fingerprint
    assert got.take_rates("strength").table().equals(want.take_rates("strength").table())


def test_inputs_are_not_changed(frame: pl.DataFrame) -> None:
    before, table = frame.clone(), pd.DataFrame(frame.to_dict(as_series=False))
    kept = table.copy()
    rl.load_trial(frame, **ROLES)
    rl.load_trial(table, **ROLES)
    assert frame.equals(before)
    pd.testing.assert_frame_equal(table, kept)


def test_only_named_columns_are_taken(frame: pl.DataFrame) -> None:
    extra = frame.with_columns(pl.Series("remarks", [[1, 2]] * frame.height))
    assert "remarks" not in rl.load_trial(extra, **ROLES).frame.columns


@pytest.mark.parametrize("spelling", [[1, 0], [True, False], ["yes", "no"], ["1", "0"], [1.0, 0.0]])
def test_one_row_per_cutting(frame: pl.DataFrame, spelling: list[Any]) -> None:
    rows = [
        {
            "bench": row["bench"],
            "tray": row["tray"],
            "strength": row["strength"],
            "rooted": spelling[0 if k < row["rooted"] else 1],
        }
        for row in frame.iter_rows(named=True)
        for k in range(row["stuck"])
    ]
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    got = rl.load_trial(columns, **{**ROLES, "stuck": None})
    assert got.fingerprint == rl.load_trial(frame, **ROLES).fingerprint


def test_a_decimal_comma_is_a_decimal_point(frame: pl.DataFrame, tmp_path) -> None:
    lengths = [f"{10 + k % 5}.{k}" for k in range(frame.height)]
    points, commas = tmp_path / "points.csv", tmp_path / "commas.csv"
    frame.with_columns(length=pl.Series(lengths)).write_csv(points)
    frame.with_columns(length=pl.Series([text.replace(".", ",") for text in lengths])).write_csv(commas, separator=";")
    with_points = rl.load_trial(points, **ROLES, covariates=["length"]).model(["strength", "length"])
    with_commas = rl.load_trial(commas, **ROLES, covariates=["length"]).model(["strength", "length"])
    assert "length" in with_points.what_matters().table()["effect"].to_list()
    assert with_commas.what_matters().table().equals(with_points.what_matters().table())


def test_rows_set_aside_change_nothing_else(frame: pl.DataFrame) -> None:
    extra = pl.DataFrame({"bench": ["B7"], "tray": ["T99"], "rootstock": ["K12"], "strength": [2500], "stuck": [20]})
    worse = pl.concat([frame, extra.with_columns(rooted=pl.lit(21)).cast(frame.schema)])
    trial = rl.load_trial(worse, **ROLES, bad_rows="set-aside")
    assert [(issue.row, issue.code) for issue in trial.set_aside] == [(13, "rooted_above_stuck")]
    assert "1 row set aside" in repr(trial)
    assert trial.take_rates("strength").table().equals(rl.load_trial(frame, **ROLES).take_rates("strength").table())


@pytest.mark.parametrize(
    ("given", "levels"),
    [
        ([10000, 500, 2500], ["500", "2500", "10000"]),
        ([10000.0, 500.0, 2500.0], ["500", "2500", "10000"]),
        (["10000", "500", "2500"], ["500", "2500", "10000"]),
        ([1.5, 0.25, 12.0], ["0.25", "1.5", "12"]),
        (["K30", "K12", "K17"], ["K12", "K17", "K30"]),
    ],
)
def test_levels_come_in_their_natural_order(given: list[Any], levels: list[str]) -> None:
    columns = {"dose": given * 4, "rooted": [5] * 12, "stuck": [20] * 12, "tray": [f"T{k}" for k in range(12)]}
    trial = rl.load_trial(columns, rooted="rooted", stuck="stuck", treatments="dose", tray="tray")
    assert trial.take_rates("dose").table()["dose"].to_list() == levels


def test_categories_keep_to_the_levels_that_occur(frame: pl.DataFrame) -> None:
    table = pd.DataFrame(frame.to_dict(as_series=False))
    table["strength"] = pd.Categorical(table["strength"], categories=[0, 2500, 5000, 9000])
    got = rl.load_trial(table, **ROLES).take_rates("strength")
    assert got.table().equals(rl.load_trial(frame, **ROLES).take_rates("strength").table())
    assert table["strength"].cat.categories.to_list() == [0, 2500, 5000, 9000]


def test_the_design_is_told(trial: rl.Trial) -> None:
    assert trial.design.n_units == 12
    assert "12 trays with 240 cuttings" in repr(trial)
    assert trial.tray_counts().columns == ["strength", "tray", "bench", "rooted", "stuck"]
    with pytest.raises(AttributeError, match="cannot be changed"):
        trial.x = 1  # type: ignore[attr-defined]


def test_levels_are_found_as_numbers_or_text(trial: rl.Trial) -> None:
    want = trial.compare("strength", 2500, 5000)
    assert trial.compare("strength", "2500", 5000.0) == want


def test_levels_may_come_from_an_array(frame: pl.DataFrame) -> None:
    dark = frame.with_columns(dark=pl.col("strength") == 5000)
    trial = rl.load_trial(dark, **{**ROLES, "treatments": ["dark"]})
    levels = dark["dark"].unique().sort().to_numpy()
    assert trial.compare("dark", levels[0], levels[1]) == trial.compare("dark", False, True)


def test_a_treatment_named_twice_counts_once(trial: rl.Trial) -> None:
    assert trial.take_rates(["strength", "strength"]) == trial.take_rates("strength")
