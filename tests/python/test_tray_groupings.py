"""Random effects of named groupings and correlations by level, through Python."""

from __future__ import annotations

import polars as pl
import pytest
import rootling as rl
from rootling.exceptions import ChoiceError, ModelError


@pytest.fixture(scope="module")
def trial() -> rl.Trial:
    frame = rl.demo.factorial(seed=2)
    batch = pl.Series("batch", [k % 5 for k in range(frame.height)])
    return rl.load_trial(
        frame.with_columns(batch),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength", "dark_days", "rootstock"],
        tray="tray",
        block="bench",
        covariates="batch",
    )


def test_named_groupings(trial: rl.Trial) -> None:
    model = trial.model(["strength", "rootstock"], trays="random", random=["bench", "batch"])
    assert model.spread["of"].to_list() == ["tray", "bench", "batch"]
    assert model.numbers.law.integration == "Laplace's approximation"
    assert {"random_layout", "conditional_and_marginal"} <= {note.code for note in model.notes}
    assert rl.models.Model.from_json(model.to_json()) == model
    assert "random effects" in model.methods
    rates = model.adjusted_rates("strength").table()
    assert (rates["low"] < rates["value"]).all()
    assert model.predict({"strength": [0], "rootstock": ["K12"]}).table().height == 1
    assert trial.model("strength", trays="random", random="bench").spread.height == 2


def test_wrong_groupings(trial: rl.Trial) -> None:
    with pytest.raises(ChoiceError, match='"batch"'):
        trial.model("strength", trays="random", random="batchs")
    with pytest.raises(ModelError, match="in the model already"):
        trial.model("strength", trays="random", random="strength")
    with pytest.raises(ModelError, match='needs trays="random"'):
        trial.model("strength", random="bench")
    with pytest.raises(ModelError, match='needs trays="beta-binomial"'):
        trial.model("strength", correlation_by="strength")


def test_clusters_by_name(trial: rl.Trial) -> None:
    model = trial.model(["strength", "rootstock"], trays="robust", robust_by="batch")
    assert "inside one batch (5 clusters)" in model.methods
    assert rl.models.Model.from_json(model.to_json()) == model
    # fewer clusters than trays: fewer degrees of freedom
    assert model.numbers.strata.tray.df < trial.model("strength", trays="robust").numbers.strata.tray.df
    benches = trial.model("strength", trays="robust", robust_by="bench")
    assert "block_kept" not in {note.code for note in benches.notes}
    with pytest.raises(ChoiceError, match='"batch"'):
        trial.model("strength", trays="robust", robust_by="batchs")
    with pytest.raises(ModelError, match='needs trays="robust"'):
        trial.model("strength", robust_by="batch")
    with pytest.raises(ModelError, match="cannot be the clusters too"):
        trial.model("strength", trays="robust", robust_by="strength")


def test_stock_plants_that_share_trays() -> None:
    rows = [{"tray": k // 4, "plant": k % 4, "strength": k // 16, "rooted": k % 3 == 0} for k in range(32)]
    trial = rl.load_trial(pl.DataFrame(rows), rooted="rooted", treatments="strength", tray="tray", stock_plant="plant")
    with pytest.raises(ModelError, match='"plant" differs between the cuttings of one tray'):
        trial.model("strength", trays="random", random="plant")
    with pytest.raises(ModelError, match="clusters would cut through trays"):
        trial.model("strength", trays="robust", robust_by="plant")


def test_correlations_by_level(trial: rl.Trial) -> None:
    model = trial.model("strength", trays="beta-binomial", correlation_by="rootstock")
    assert model.spread["level"].to_list() == ["K12", "K17", "K30"]
    assert model.numbers.law.equal_icc.df == 2
    assert "correlation_by_level" in {note.code for note in model.notes}
    assert rl.models.Model.from_json(model.to_json()) == model
    assert trial.model("strength").spread.height == 0
