"""The reference values again, through Python."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl

INTERVALS = {
    "wald": "wald", "wilson": "wilson", "wilson-corrected": "wilson_cc", "clopper-pearson": "clopper_pearson",
    "mid-p": "mid_p", "jeffreys": "jeffreys", "agresti-coull": "agresti_coull", "likelihood": "likelihood", "blaker": "blaker",
}  # fmt: skip
DIFFERENCES = {
    "miettinen-nurminen": "miettinen_nurminen", "newcombe": "newcombe", "newcombe-corrected": "newcombe_cc",
    "agresti-caffo": "agresti_caffo", "wald": "wald",
}  # fmt: skip
ODDS = {"conditional-exact": "exact_conditional", "mid-p": "mid_p_conditional", "woolf": "woolf", "score": "score"}


def _starting(expected: Any, start: str) -> list[str]:
    return [name for name in expected.entries if name.startswith(start) and not name.endswith("_printed")]


@pytest.mark.parametrize("method", INTERVALS)
def test_single_rates(expected: Any, method: str) -> None:
    names = [name for name in _starting(expected, "one_prop_") if INTERVALS[method] in expected.values(name)]
    assert len(names) >= 12
    for name in names:
        inputs = expected.entries[name]["inputs"]
        got = rl.rates.interval(inputs["x"], inputs["n"], method=method)
        # expected.json one_prop_*: from the definitions with the library each entry names
        expected.check(name, [got.conf_low, got.conf_high], expected.values(name)[INTERVALS[method]])
        assert got.value == inputs["x"] / inputs["n"]


def test_arrays_give_what_scalars_give() -> None:
    rooted, stuck = np.array([[0, 3, 20], [5, 10, 1]]), 20
    for method in INTERVALS:
        many = rl.rates.interval(rooted, stuck, method=method)
        assert many.conf_low.shape == (2, 3)
        for place, count in np.ndenumerate(rooted):
            one = rl.rates.interval(int(count), stuck, method=method)
            assert math.isclose(one.conf_low, many.conf_low[place], rel_tol=1e-12, abs_tol=1e-15)
            assert math.isclose(one.conf_high, many.conf_high[place], rel_tol=1e-12)


def _groups(expected: Any, name: str) -> tuple[int, int, int, int]:
    inputs = expected.entries[name]["inputs"]
    return inputs["x1"], inputs["n1"], inputs["x2"], inputs["n2"]


@pytest.mark.parametrize("method", DIFFERENCES)
def test_differences(expected: Any, method: str) -> None:
    for name in (n for n in _starting(expected, "diff_") if DIFFERENCES[method] in expected.values(n)):
        got = rl.compare.difference(*_groups(expected, name), method=method)
        # expected.json diff_*: from the definitions with the library each entry names
        expected.check(name, [got.conf_low, got.conf_high], expected.values(name)[DIFFERENCES[method]])


@pytest.mark.parametrize(("method", "key"), [("koopman", "koopman"), ("log", "katz_log")])
def test_ratios(expected: Any, method: str, key: str) -> None:
    for name in ("ratio_56_70_48_80", "ratio_156_240_84_240", "ratio_34_45_14_45"):
        got = rl.compare.ratio(*_groups(expected, name), method=method)
        # expected.json ratio_*: from the definitions with the library each entry names
        expected.check(name, [got.conf_low, got.conf_high], expected.values(name)[key])


@pytest.mark.parametrize("method", ODDS)
def test_odds_ratios(expected: Any, method: str) -> None:
    for name in ("or_56_70_48_80", "or_156_240_84_240", "or_34_45_14_45"):
        got = rl.compare.odds_ratio(*_groups(expected, name), method=method)
        # expected.json or_*: from the definitions with the library each entry names
        expected.check(name, [got.conf_low, got.conf_high], expected.values(name)[ODDS[method]])


def test_two_by_two_tables(expected: Any) -> None:
    names = [name for name in _starting(expected, "test2x2_") if "fisher" in expected.values(name)]
    assert len(names) >= 10
    for name in names:
        table, values = expected.entries[name]["inputs"]["table"], expected.values(name)
        exact, family = rl.tables.fisher(table), rl.tables.chi_square(table)
        # expected.json test2x2_*: scipy calls named in each entry
        expected.check(name, exact.p_value, values["fisher"]["two_sided_minlike"])
        expected.check(name, [exact.less, exact.greater], [values["fisher"]["less"], values["fisher"]["greater"]])
        expected.check(name, [family.pearson.statistic, family.pearson.p_value], values["pearson"])
        expected.check(name, [family.likelihood_ratio.statistic, family.likelihood_ratio.p_value], values["lr_g2"])


def _plum(data: Any) -> pl.DataFrame:
    return (
        pl.read_csv(data / "plum_cuttings.csv")
        .pivot(on="outcome", index=["planting", "length"], values="count")
        .with_columns(total=pl.col("alive") + pl.col("dead"))
    )


@pytest.fixture
def plum(data: Any) -> rl.Trial:
    return rl.load_trial(_plum(data), rooted="alive", stuck="total", treatments=["planting", "length"])


def test_plum_chi_squares(expected: Any, data: Any) -> None:
    for length in ("long", "short"):
        name, rows = f"plum_2x2_{length}", _plum(data).filter(length=length).sort("planting")
        got, values = rl.tables.chi_square(rows.select("alive", "dead").rows()), expected.values(name)
        # expected.json plum_2x2_*: Hoblyn & Palmer 1934 by Bartlett 1935
        expected.check(name, [got.pearson.statistic, got.pearson.p_value], [values["pearson"], values["pearson_p"]])
        expected.check(name, [got.likelihood_ratio.statistic, got.corrected.statistic], [values["lr_g2"], values["yates"]])


def test_plum_model(expected: Any, plum: rl.Trial) -> None:
    fit, values = plum.model(["planting", "length"]).figures, expected.values("plum_glm_logit_main")
    # expected.json plum_glm_logit_main: the fit named in the entry
    expected.check("plum_glm_logit_main", [c.value for c in fit.coefficients], values["estimate"])
    # mpmath 1.3, 40 digits: the inverse information at the very end; the entry's own are from one step before, 2e-6 off
    exact = [0.121669104439402738, 0.146462400231397975, 0.145479995505816413]
    assert all(math.isclose(c.std_error, se, rel_tol=1e-12) for c, se in zip(fit.coefficients, exact, strict=True))
    # expected.json plum_glm_logit_main: the fit named in the entry
    expected.check("plum_glm_logit_main", [fit.loglik, fit.deviance, fit.pearson], [values[k] for k in ("loglik", "deviance", "pearson_x2")])


def test_plum_has_no_three_way_interaction(expected: Any, plum: rl.Trial) -> None:
    tests = plum.model(["planting", "length"], interactions=[("planting", "length")]).effect_tests().table()
    row, values = tests.filter(effect="planting x length").row(0, named=True), expected.values("plum_three_way")
    # expected.json plum_three_way: Bartlett 1935, likelihood-ratio form
    expected.check("plum_three_way", [row["statistic"], row["p_value"]], [values["lr"], values["lr_p"]])


def test_plum_profile_limits(expected: Any, plum: rl.Trial) -> None:
    table, values = plum.model(["planting", "length"]).odds_ratios().table(), expected.values("plum_profile_ci_main")
    # expected.json plum_profile_ci_main: the profile named in the entry
    expected.check("plum_profile_ci_main", [math.log(x) for x in table["conf_low"]], values["lower"][1:])
    expected.check("plum_profile_ci_main", [math.log(x) for x in table["conf_high"]], values["upper"][1:])


def test_plum_says_that_no_trays_were_recorded(plum: rl.Trial) -> None:
    for result in (plum.take_rates("planting"), plum.model(["planting"]).effect_tests()):
        assert "too narrow" in result.sentence


def test_separation_is_penalised(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "endometrial.csv", rooted="HG", treatments=["NV"], covariates=["PI", "EH"]
    )  # one row per case: 0 or 1
    model, values = trial.model(["NV", "PI", "EH"]), expected.values("endometrial_firth")
    assert model.figures.penalised
    # expected.json endometrial_firth: Heinze & Schemper 2002, Stat. Med. 21:2409-2419
    expected.check("endometrial_firth", [c.value for c in model.figures.coefficients], values["estimate"])
    table = model.odds_ratios().table()
    expected.check("endometrial_firth", table["p_value"].to_list(), values["plr_p"][1:])


def test_tray_dispersion(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "crowder_seeds.csv", rooted="germinated", stuck="n", treatments=["seed", "extract"], tray="plate"
    )
    model = trial.model(["seed", "extract"], interactions=[("seed", "extract")])
    values = expected.values("crowder_quasibinomial")
    # expected.json crowder_quasibinomial: Crowder 1978, the fit named in the entry
    expected.check("crowder_quasibinomial", model.figures.strata.tray.dispersion, values["dispersion"])
    row = model.effect_tests().table().filter(effect="seed x extract").row(0, named=True)
    expected.check("crowder_quasibinomial", [row["statistic"], row["p_value"]], [values["F_interaction"], values["F_interaction_p"]])
