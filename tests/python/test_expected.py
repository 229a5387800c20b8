"""The reference values again, through Python."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import polars as pl
import pytest
import rootling as rl

INTERVALS = {
    "wald": "wald",
    "wilson": "wilson",
    "wilson-corrected": "wilson_cc",
    "clopper-pearson": "clopper_pearson",
    "mid-p": "mid_p",
    "jeffreys": "jeffreys",
    "agresti-coull": "agresti_coull",
    "likelihood": "likelihood",
    "blaker": "blaker",
}
DIFFERENCES = {
    "miettinen-nurminen": "miettinen_nurminen",
    "mee": "mee",
    "newcombe": "newcombe",
    "newcombe-corrected": "newcombe_cc",
    "agresti-caffo": "agresti_caffo",
    "wald": "wald",
}
RATIOS = {"koopman": "koopman", "log": "katz_log", "miettinen-nurminen": "miettinen_nurminen"}
ODDS = {
    "conditional-exact": "exact_conditional",
    "mid-p": "mid_p_conditional",
    "woolf": "woolf",
    "score": "score",
    "miettinen-nurminen": "score_mn",
}
PRINTED = {"mn": "miettinen_nurminen"}


def _starting(expected: Any, start: str) -> list[str]:
    return [name for name in expected.entries if name.startswith(start) and "_printed" not in name]


@pytest.mark.parametrize("method", INTERVALS)
def test_single_rates(expected: Any, method: str) -> None:
    names = [name for name in _starting(expected, "one_prop_") if INTERVALS[method] in expected.values(name)]
    assert len(names) >= 12
    for name in names:
        inputs = expected.entries[name]["inputs"]
        got = rl.rates.interval(inputs["x"], inputs["n"], method=method)
        # expected.json one_prop_*: from the definitions with the library each entry names
        limits = expected.values(name)[INTERVALS[method]]
        if method in ("wald", "agresti-coull"):
            # The formulas pass 0 and 1, where the limits end.
            limits = [min(max(end, 0.0), 1.0) for end in limits]
        expected.check(name, [got.low, got.high], limits)
        assert got.value == inputs["x"] / inputs["n"]


def test_arrays_give_what_scalars_give() -> None:
    rooted, stuck = np.array([[0, 3, 20], [5, 10, 1]]), 20
    for method in INTERVALS:
        many = rl.rates.interval(rooted, stuck, method=method)
        assert many.low.shape == (2, 3)
        for place, count in np.ndenumerate(rooted):
            one = rl.rates.interval(int(count), stuck, method=method)
            assert math.isclose(one.low, many.low[place], rel_tol=1e-12, abs_tol=1e-15)
            assert math.isclose(one.high, many.high[place], rel_tol=1e-12)


def _groups(expected: Any, name: str) -> tuple[int, int, int, int]:
    """Counts with the groups exchanged: the references give p1 - p2 and p1 / p2, rootling second minus first."""
    inputs = expected.entries[name]["inputs"]
    return inputs["x2"], inputs["n2"], inputs["x1"], inputs["n1"]


@pytest.mark.parametrize("method", DIFFERENCES)
def test_differences(expected: Any, method: str) -> None:
    names = [name for name in _starting(expected, "diff_") if DIFFERENCES[method] in expected.values(name)]
    assert len(names) >= 14
    for name in names:
        got = rl.compare.difference(*_groups(expected, name), method=method)
        # expected.json diff_*: from the definitions with the library each entry names
        # (the formulas of Wald and of Agresti and Caffo can pass 1, what a difference can be; the rest is cut off)
        limits = [min(1.0, max(-1.0, limit)) for limit in expected.values(name)[DIFFERENCES[method]]]
        expected.check(name, [got.low, got.high], limits)
        expected.check(name, got.value, expected.values(name)["estimate"])


@pytest.mark.parametrize("method", RATIOS)
def test_ratios(expected: Any, method: str) -> None:
    names = [name for name in _starting(expected, "ratio_") if RATIOS[method] in expected.values(name)]
    assert len(names) >= 9
    for name in names:
        got = rl.compare.ratio(*_groups(expected, name), method=method)
        # expected.json ratio_*: from the definitions with the library each entry names
        expected.check(name, [got.low, got.high], expected.values(name)[RATIOS[method]])
        expected.check(name, got.value, expected.values(name)["estimate"])


@pytest.mark.parametrize("method", ODDS)
def test_odds_ratios(expected: Any, method: str) -> None:
    names = [name for name in _starting(expected, "or_") if ODDS[method] in expected.values(name)]
    assert len(names) >= 8
    for name in names:
        got = rl.compare.odds_ratio(*_groups(expected, name), method=method)
        # expected.json or_*: from the definitions with the library each entry names
        expected.check(name, [got.low, got.high], expected.values(name)[ODDS[method]])


@pytest.mark.parametrize("method", ["woolf", "log"])
def test_intervals_that_zeros_leave_undefined_are_refused(expected: Any, method: str) -> None:
    ask, start, key = {
        "woolf": (rl.compare.odds_ratio, "or_", "woolf"),
        "log": (rl.compare.ratio, "ratio_", "katz_log"),
    }[method]
    names = [name for name in _starting(expected, start) if key not in expected.values(name)]
    assert names
    for name in names:
        with pytest.raises(rl.exceptions.CountError, match="not defined"):
            ask(*_groups(expected, name), method=method)


def _printed(expected: Any, start: str, methods: dict[str, str]) -> list[tuple[str, str]]:
    """Printed entries of one family with the method that makes them."""
    found = []
    for name in expected.entries:
        if name.startswith(start) and name.endswith("_printed") and "inputs" in expected.entries[name]:
            rest = name.removesuffix("_printed").split("_", 4 if start == "one_prop_" else 5)[-1]
            key = PRINTED.get(rest, rest)
            found += [(name, method) for method, known in methods.items() if known == key]
    return found


def test_printed_tables(expected: Any) -> None:
    single, pairs = _printed(expected, "one_prop_", INTERVALS), _printed(expected, "diff_", DIFFERENCES)
    assert len(single) >= 20
    assert len(pairs) >= 25
    for name, method in single:
        inputs = expected.entries[name]["inputs"]
        got = rl.rates.interval(inputs["x"], inputs["n"], method=method)
        # expected.json one_prop_*_printed: Newcombe 1998, Stat. Med. 17:857-872, Table I
        expected.check(name, [got.low, got.high], expected.values(name)["value"])
    for name, method in pairs:
        got = rl.compare.difference(*_groups(expected, name), method=method)
        # expected.json diff_*_printed: Newcombe 1998, Stat. Med. 17:873-890, Table II; Gart & Nam 1990
        expected.check(name, [got.low, got.high], expected.values(name)["value"])


def test_two_by_two_tables(expected: Any) -> None:
    names = [name for name in _starting(expected, "test2x2_") if "fisher" in expected.values(name)]
    assert len(names) >= 10
    for name in names:
        table, values = expected.entries[name]["inputs"]["table"], expected.values(name)
        exact, family = rl.tables.fisher(table), rl.tables.chi_square(table)
        # expected.json test2x2_*: scipy calls named in each entry
        expected.check_p(name, exact.p, values["fisher"]["two_sided_minlike"])
        # expected.json test2x2_*: scipy calls named there; sides are those of the first row, ours of the second
        expected.check_p(name, [exact.p_higher, exact.p_lower], [values["fisher"]["less"], values["fisher"]["greater"]])
        for test, key in ((family.pearson, "pearson"), (family.likelihood_ratio, "lr_g2"), (family.corrected, "yates")):
            # expected.json test2x2_*: scipy calls named in each entry
            expected.check(name, test.statistic, values[key][0])
            # expected.json test2x2_*: scipy calls named in each entry
            expected.check_p(name, test.p, values[key][1])


def _plum(data: Any) -> pl.DataFrame:
    return (
        pl.read_csv(data / "plum_cuttings.csv")
        .pivot(on="outcome", index=["planting", "length"], values="count")
        .with_columns(total=pl.col("alive") + pl.col("dead"))
    )


@pytest.fixture
def plum(data: Any) -> rl.Trial:
    return rl.load_trial(_plum(data), rooted="alive", stuck="total", treatments=["planting", "length"])


@pytest.mark.parametrize("length", ["long", "short"])
def test_plum_two_by_two(expected: Any, data: Any, length: str) -> None:
    name, rows = f"plum_2x2_{length}", _plum(data).filter(length=length).sort("planting").select("alive", "dead").rows()
    values, got, exact = expected.values(name), rl.tables.chi_square(rows), rl.tables.fisher(rows)
    groups = [count for alive, dead in rows for count in (alive, alive + dead)]
    score, likelihood = rl.compare.score_test(*groups), rl.compare.likelihood_ratio_test(*groups)
    tests = [
        (got.pearson, "pearson", "pearson_p"),
        (score, "pearson", "pearson_p"),
        (got.corrected, "yates", "yates_p"),
    ]
    for test, statistic, p in [
        *tests,
        (got.likelihood_ratio, "lr_g2", "lr_p"),
        (likelihood, "lr_g2", "lr_p"),
    ]:
        # expected.json plum_2x2_*: Hoblyn & Palmer 1934 by Bartlett 1935
        expected.check(name, test.statistic, values[statistic])
        # expected.json plum_2x2_*: Hoblyn & Palmer 1934 by Bartlett 1935
        expected.check_p(name, test.p, values[p])
    # expected.json plum_2x2_*: Hoblyn & Palmer 1934 by Bartlett 1935
    expected.check_p(name, exact.p, values["fisher_two_sided_p"])
    # the reference is first over second, rootling second over first
    odds = rl.compare.odds_ratio(*groups[2:], *groups[:2], method="woolf")
    # expected.json plum_2x2_*: from the four cell counts
    expected.check(name, [odds.value, odds.low, odds.high], [values["sample_or"], *values["woolf_ci"]])


@pytest.mark.parametrize("interactions", [(), [("planting", "length")]], ids=["main", "interaction"])
def test_plum_odds_ratios(expected: Any, plum: rl.Trial, interactions: Any) -> None:
    name = "plum_glm_logit_interaction" if interactions else "plum_glm_logit_main"
    found = plum.model(["planting", "length"], interactions=interactions).odds_ratios().table()
    # expected.json plum_glm_logit_*: the fits named in the entries; their first term is the intercept
    expected.check(name, [math.log(value) for value in found["odds_ratio"]], expected.values(name)["estimate"][1:])


def test_plum_model(expected: Any, plum: rl.Trial) -> None:
    fit, values = plum.model(["planting", "length"]).numbers, expected.values("plum_glm_logit_main")
    # expected.json plum_glm_logit_main: the fit named in the entry
    expected.check("plum_glm_logit_main", [c.value for c in fit.coefficients], values["estimate"])
    # mpmath 1.3, 40 digits: the inverse information at the very end; the entry's own are from one step before, 2e-6 off
    exact = [0.121669104439402738, 0.146462400231397975, 0.145479995505816413]
    assert all(math.isclose(c.se, se, rel_tol=1e-12) for c, se in zip(fit.coefficients, exact, strict=True))
    # expected.json plum_glm_logit_main: the fit named in the entry
    expected.check(
        "plum_glm_logit_main",
        [fit.loglik, fit.deviance, fit.pearson],
        [values[k] for k in ("loglik", "deviance", "pearson_x2")],
    )


def test_plum_has_no_three_way_interaction(expected: Any, plum: rl.Trial) -> None:
    tests = plum.model(["planting", "length"], interactions=[("planting", "length")]).what_matters().table()
    row, values = tests.filter(effect="planting x length").row(0, named=True), expected.values("plum_three_way")
    # expected.json plum_three_way: Bartlett 1935, likelihood-ratio form
    expected.check("plum_three_way", row["statistic"], values["lr"])
    # expected.json plum_three_way: Bartlett 1935, likelihood-ratio form
    expected.check_p("plum_three_way", row["p"], values["lr_p"])


def test_plum_profile_limits(expected: Any, plum: rl.Trial) -> None:
    table, values = plum.model(["planting", "length"]).odds_ratios().table(), expected.values("plum_profile_ci_main")
    # expected.json plum_profile_ci_main: the profile named in the entry
    expected.check("plum_profile_ci_main", [math.log(x) for x in table["low"]], values["lower"][1:])
    expected.check("plum_profile_ci_main", [math.log(x) for x in table["high"]], values["upper"][1:])


def test_plum_says_that_no_trays_were_recorded(plum: rl.Trial) -> None:
    for result in (plum.take_rates("planting"), plum.model(["planting"]).what_matters()):
        assert "too narrow" in result.sentence


def test_separation_is_penalised(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "heinze_schemper_2002.csv", rooted="HG", treatments=["NV"], covariates=["PI", "EH"]
    )  # one row per case: 0 or 1
    model, values = trial.model(["NV", "PI", "EH"]), expected.values("endometrial_firth")
    assert model.numbers.penalised
    # expected.json endometrial_firth: Heinze & Schemper 2002, Stat. Med. 21:2409-2419
    expected.check("endometrial_firth", [c.value for c in model.numbers.coefficients], values["estimate"])
    table = model.odds_ratios().table()
    # expected.json endometrial_firth: Heinze & Schemper 2002, Stat. Med. 21:2409-2419
    expected.check_p("endometrial_firth", table["p"].to_list(), values["plr_p"][1:])


def test_tray_dispersion(expected: Any, data: Any) -> None:
    trial = rl.load_trial(
        data / "crowder_seeds.csv", rooted="germinated", stuck="n", treatments=["seed", "extract"], tray="plate"
    )
    model = trial.model(["seed", "extract"], interactions=[("seed", "extract")], trays="dispersion")
    values = expected.values("crowder_quasibinomial")
    # expected.json crowder_quasibinomial: Crowder 1978, the fit named in the entry
    expected.check("crowder_quasibinomial", model.numbers.strata.tray.dispersion, values["dispersion"])
    row = model.what_matters().table().filter(effect="seed x extract").row(0, named=True)
    # expected.json crowder_quasibinomial: Crowder 1978, the fit named in the entry
    expected.check("crowder_quasibinomial", row["statistic"], values["F_interaction"])
    # expected.json crowder_quasibinomial: Crowder 1978, the fit named in the entry
    expected.check_p("crowder_quasibinomial", row["p"], values["F_interaction_p"])


def _two_arms(data: Any, **roles: Any) -> rl.compare.Comparison:
    frame = pl.read_csv(data / "trays_invented.csv").with_row_index("tray")
    trial = rl.load_trial(frame, rooted="rooted", stuck="set", treatments="strength_mg_l", tray="tray", **roles)
    return trial.compare("strength_mg_l", 0, 2500)


def test_two_arms_of_trays(expected: Any, data: Any) -> None:
    found, name = _two_arms(data), "trays_two_arm_0_2500"
    values, equal, unequal = expected.values(name), found.tray_t, found.tray_welch
    # expected.json trays_two_arm_0_2500: pooled t
    expected.check(name, [equal.difference, equal.statistic], [values["diff"], values["t"]])
    # expected.json trays_two_arm_0_2500: pooled t
    expected.check(name, [equal.low, equal.high], values["t_ci"])
    # expected.json trays_two_arm_0_2500: Welch
    expected.check(name, [unequal.statistic, unequal.df], [values["welch_t"], values["welch_df"]])
    # expected.json trays_two_arm_0_2500: pooled t and Welch
    expected.check_p(name, [equal.p, unequal.p], [values["t_p"], values["welch_p"]])
    assert found.randomisation.assignments == math.comb(12, 6)
    # expected.json trays_two_arm_0_2500: all 924 splits of the trays
    expected.check_p(name, found.randomisation.p, values["permutation_p"])
    # One statistic gives interval and P value.
    assert (found.low > 0) == (found.p < 0.05) == (found.ratio[1] > 1) == (found.odds_ratio[1] > 1)


def test_two_arms_of_trays_in_blocks(expected: Any, data: Any) -> None:
    found, name = _two_arms(data, block="block"), "trays_two_arm_0_2500"
    assert found.randomisation.assignments == 2**6
    values = expected.values(name)
    # expected.json trays_two_arm_0_2500: all 64 flips within blocks
    expected.check_p(name, found.randomisation.p, values["signflip_p"])
    # expected.json trays_two_arm_0_2500: paired t over blocks
    expected.check_p(name, found.tray_t.p, values["paired_p"])
    # expected.json trays_two_arm_0_2500: paired t over blocks
    expected.check(name, [found.tray_t.low, found.tray_t.high], values["paired_ci"])
    assert list(found.within) == ["block"]


def test_comparison_within_blocks(data: Any) -> None:
    made = json.loads((data.parent / "reference" / "values" / "effective_strata.json").read_text(encoding="utf-8"))
    columns = dict(zip(["strength", "bench", "rooted", "stuck"], zip(*made["trays"], strict=True), strict=True))
    frame = pl.DataFrame({name: list(column) for name, column in columns.items()}).with_row_index("tray")
    trial = rl.load_trial(frame, rooted="rooted", stuck="stuck", treatments="strength", tray="tray", block="bench")
    found, values = trial.compare("strength", 0, 1), made["values"]
    # values/effective_strata.json: numpy 2.4.6 and scipy 1.17.1, by numerical maximisation (about 8 digits)
    for got, wanted in [
        (found.spread.icc, values["icc"]),
        (found.df, values["df"]),
        (found.value, values["difference"]),
        (found.statistic, values["t"]),
        (found.p, values["p"]),
        (found.low, values["difference_limits"][0]),
        (found.high, values["difference_limits"][1]),
        (found.ratio[1], values["ratio_limits"][0]),
        (found.ratio[2], values["ratio_limits"][1]),
        (found.odds_ratio[1], values["odds_ratio_limits"][0]),
        (found.odds_ratio[2], values["odds_ratio_limits"][1]),
    ]:
        assert abs(got / wanted - 1) < 1e-7, (got, wanted)


def test_strength_conversions(expected: Any) -> None:
    name, values = "strength_conversions", expected.values("strength_conversions")
    acid, salt, naa = (rl.Strength(substance) for substance in ("IBA", "K-IBA", "NAA"))
    found = {
        "percent_0_3_to_mg_per_l": rl.units.convert(0.3, rl.Strength("IBA", unit="% w/v"), "mg/L"),
        "ppm_wv_2500_to_mg_per_l": rl.units.convert(2500, rl.Strength("IBA", unit="ppm w/v"), "mg/L"),
        "iba_2500_mg_per_l_to_mM": rl.units.convert(2500, acid, "mM"),
        "iba_10_mM_to_mg_per_l": rl.units.convert(10, rl.Strength("IBA", unit="mM"), "mg/L"),
        "kiba_to_iba_mass_factor": rl.units.equivalent(1, salt, "IBA"),
        "iba_to_kiba_mass_factor": rl.units.equivalent(1, acid, "K-IBA"),
        "kiba_5000_as_iba_mg_per_l": rl.units.equivalent(5000, salt, "IBA"),
        "naa_1000_mg_per_l_to_mM": rl.units.convert(1000, naa, "mM"),
        "mg_per_l_1_percent": rl.units.convert(1, rl.Strength("IBA", unit="% w/v"), "mg/L"),
    }
    for key, got in found.items():
        # expected.json strength_conversions: definitions, with the molar masses of its other entries
        expected.check(name, got, values[key])
