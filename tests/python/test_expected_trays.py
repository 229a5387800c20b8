"""Reference values of invented trays, separated shoots and plain margins, through Python."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
import rootling as rl

# The trials here are small on purpose.
pytestmark = pytest.mark.filterwarnings("ignore::rootling.exceptions.FewTraysWarning")


def _values(model: rl.models.Model) -> list[float]:
    return [c.value for c in model.numbers.coefficients]


def _errors(model: rl.models.Model) -> list[float]:
    return [c.se for c in model.numbers.coefficients]


def test_trays_in_blocks(expected: Any, data: Any) -> None:
    frame = pl.read_csv(data / "trays_invented.csv").with_row_index("tray")
    trial = rl.load_trial(frame, rooted="rooted", stuck="set", treatments="strength_mg_l", tray="tray", block="block")
    model, values = trial.model("strength_mg_l", trays="dispersion"), expected.values("trays_quasi")
    # expected.json trays_quasi: R 4.2.2 glm, family binomial and quasibinomial
    expected.check("trays_quasi", _values(model), values["estimate"])
    expected.check("trays_quasi", _errors(model), values["se"])
    expected.check("trays_quasi", model.numbers.pearson, values["pearson_x2"])
    expected.check("trays_quasi", model.numbers.strata.raw_dispersion, values["dispersion"])
    test = model.what_matters().table().row(0, named=True)
    expected.check("trays_quasi", test["statistic"], values["quasi_F"])
    expected.check_p("trays_quasi", test["p"], values["quasi_F_p"])


def test_trays_more_alike_than_chance(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "trays_zero_variance_invented.csv", rooted="rooted", stuck="set", treatments="strength_mg_l", tray="tray"
    )
    model, values = trial.model("strength_mg_l", trays="dispersion"), expected.values("trays_zero_variance")
    # expected.json trays_zero_variance: R 4.2.2 glm
    expected.check("trays_zero_variance", _values(model), values["estimate"])
    expected.check("trays_zero_variance", _errors(model), values["se"])
    expected.check("trays_zero_variance", model.numbers.strata.raw_dispersion, values["dispersion"])
    assert "underdispersion" in {note.code for note in model.notes}


def test_shoots_of_which_all_rooted(expected: Any, data: Any) -> None:
    shoots = pl.read_csv(data / "marin_1993.csv").with_columns(rooted=(pl.col("roots") > 0) * pl.col("shoots"))
    cells = shoots.group_by("photoperiod_h", "bap_um", maintain_order=True).agg(pl.col("rooted", "shoots").sum())
    trial = rl.load_trial(cells, rooted="rooted", stuck="shoots", treatments=["photoperiod_h", "bap_um"])
    model = trial.model(["photoperiod_h", "bap_um"], interactions=[("photoperiod_h", "bap_um")])
    values = expected.values("marin_rooted_firth")
    # expected.json marin_rooted_firth: penalised score iteration in R 4.2.2
    expected.check("marin_rooted_firth", _values(model), values["estimate"])
    expected.check("marin_rooted_firth", _errors(model), values["se"])
    assert len(model.numbers.separated) == 3


def test_a_full_arm(expected: Any) -> None:
    frame = {"strength": [0, 5000], "rooted": [14, 20], "stuck": [20, 20]}
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength")
    model, values = trial.model("strength"), expected.values("full_cell_14_20")
    # expected.json full_cell_14_20: penalised score iteration in R 4.2.2
    expected.check("full_cell_14_20", _values(model)[1], values["log_or"])
    expected.check("full_cell_14_20", _errors(model)[1], values["se"])
    expected.check_p("full_cell_14_20", model.odds_ratios().table()["p"].to_list(), [values["plr_p"]])


@pytest.mark.parametrize("name", ["plum_margin_planting", "plum_margin_length"])
def test_margins_of_plum_cuttings(expected: Any, name: str) -> None:
    values = expected.values(name)
    found = rl.tables.chi_square(values["table"])
    # expected.json plum_margin_*: R 4.2.2 chisq.test
    expected.check(name, found.pearson.statistic, values["pearson"])
    expected.check_p(name, found.pearson.p, values["pearson_p"])
