//! Generated tables, pairs, ordered tables, strata and lists of P values against R, statsmodels and the definitions.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, ExactOptions, PairedMethod, Strata, StratifiedOptions, chi_square, fisher, linear_by_linear,
    paired, stratified,
};
use rootling::effects::adjusted_p;
use serde_json::Value;

use crate::support::number;

fn cases(kind: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/counts_peers.json")).unwrap();
    all[kind].as_array().unwrap().clone()
}

fn cells(value: &Value) -> Vec<Vec<u64>> {
    serde_json::from_value(value.clone()).unwrap()
}

/// Held to 1e-9 relative; below 1e-290, where R loses digits, that both are as small.
#[track_caller]
fn p_agrees(got: f64, want: &Value, what: &Value) {
    let want = number(want);
    let held = if want < 1e-290 { got < 1e-285 } else { (got / want - 1.0).abs() <= 1e-9 };
    assert!(held, "{what}: got {got:e}, want {want:e}");
}

#[test]
fn tables_of_two_rates_agree_with_r() {
    // values/counts_peers.json: R 4.2.2 fisher.test, chisq.test
    for case in cases("two_by_two") {
        let table = ContingencyTable::new(cells(&case["table"])).unwrap();
        let (exact, chi) = (fisher(&table).unwrap(), chi_square(&table).unwrap());
        p_agrees(exact.p, &case["two_sided"], &case);
        // Their sides are those of the first row, ours of the second.
        p_agrees(exact.p_higher, &case["less"], &case);
        p_agrees(exact.p_lower, &case["greater"], &case);
        p_agrees(chi.pearson.p, &case["pearson_p"], &case);
        p_agrees(chi.corrected.unwrap().p, &case["corrected_p"], &case);
        assert_rel!(chi.pearson.statistic.unwrap(), number(&case["pearson"]), 1e-11);
    }
}

#[test]
fn pairs_agree_with_peers() {
    // values/counts_peers.json: R 4.2.2 mcnemar.test, binom.test; statsmodels 0.15.0; limits by mpmath at 40 digits
    for case in cases("pairs") {
        let [first, second]: [[u64; 2]; 2] = serde_json::from_value(case["table"].clone()).unwrap();
        // The references subtract the second from the first: first and second enter the other way round.
        let turned = [[first[0], second[0]], [first[1], second[1]]];
        let found = paired(turned, PairedMethod::Tango, 0.95).unwrap().numbers;
        let p = |name: &str| found.tests.iter().find(|test| test.method.name() == name).unwrap().p;
        p_agrees(p("exact"), &case["exact"], &case);
        p_agrees(p("exact"), &case["exact_statsmodels"], &case);
        p_agrees(p("asymptotic"), &case["plain"], &case);
        p_agrees(p("asymptotic-corrected"), &case["corrected"], &case);
        if case.get("mid_p").is_some() {
            p_agrees(p("mid-p"), &case["mid_p"], &case);
        }
        let other = paired(turned, PairedMethod::Newcombe, 0.95).unwrap().numbers;
        for (found, name) in [(&found, "tango"), (&other, "newcombe")] {
            for (got, want) in [(found.low, &case[name][0]), (found.high, &case[name][1])] {
                assert!(abs_diff_eq!(got, number(want), epsilon = 1e-9), "{name} {case}: got {got}");
            }
        }
    }
}

#[test]
fn adjusted_p_values_agree_with_r() {
    // values/counts_peers.json: R 4.2.2 p.adjust
    for case in cases("adjusted") {
        let values: Vec<f64> = case["p"].as_array().unwrap().iter().map(number).collect();
        for method in ["bonferroni", "holm", "hochberg", "hommel", "benjamini-hochberg", "benjamini-yekutieli"] {
            let found = adjusted_p(&values, method.parse().unwrap(), &Control::new()).unwrap();
            for (got, want) in found.iter().zip(case[method].as_array().unwrap()) {
                assert_rel!(*got, number(want), 1e-12);
            }
        }
    }
}

#[test]
fn ordered_tables_agree() {
    // values/counts_peers.json: numpy correlation of single plants, scipy 1.17.1 chi2
    for case in cases("ordered") {
        let table = ContingencyTable::new(cells(&case["table"])).unwrap();
        let scores = |name: &str| -> Vec<f64> { case[name].as_array().unwrap().iter().map(number).collect() };
        let options = ExactOptions { work: 0, draws: 99, seed: 1 };
        let found = linear_by_linear(&table, &scores("rows"), &scores("columns"), options, &Control::new()).unwrap();
        assert!(abs_diff_eq!(found.correlation, number(&case["correlation"]), epsilon = 1e-12), "{case}");
        // a correlation near 0 is what is left of sums that cancel
        assert!(
            abs_diff_eq!(found.asymptotic.statistic.unwrap(), number(&case["statistic"]), epsilon = 1e-10),
            "{case}"
        );
        assert_rel!(found.asymptotic.p, number(&case["p"]), 1e-9);
    }
}

#[test]
fn strata_agree() {
    // values/counts_peers.json: numpy Kronecker products; whole numbers; statsmodels 0.15.0 StratifiedTable
    for case in cases("strata") {
        let mut tables: Vec<Vec<Vec<u64>>> = serde_json::from_value(case["strata"].clone()).unwrap();
        // Their effects are those of the first row, ours of the second; tests of more rows take them in either order.
        tables.iter_mut().for_each(|table| table.reverse());
        let found = stratified(&Strata::new(tables).unwrap(), &StratifiedOptions::default(), &Control::new()).unwrap();
        let general = &found.generalised;
        for (test, name) in [
            (&general.general, "general"),
            (&general.mean_scores, "mean_scores"),
            (&general.correlation, "correlation"),
        ] {
            assert_abs_diff_eq!(
                test.statistic.unwrap(),
                number(&case[name][0]),
                epsilon = 1e-9 * (1.0 + number(&case[name][0]))
            );
            assert_rel!(test.df.unwrap(), number(&case[name][1]), 1e-15);
            assert_rel!(test.p, number(&case[name][2]), 1e-9);
        }
        let Some(common) = &found.common else { continue };
        assert_rel!(common.ratio.value, number(&case["ratio"]), 1e-12);
        assert_rel!(common.ratio.value, number(&case["ratio_statsmodels"]), 1e-10);
        assert_rel!(common.ratio.se.unwrap(), number(&case["ratio_se"]), 1e-10);
        assert_abs_diff_eq!(common.difference.value, number(&case["difference"]), epsilon = 1e-13);
        assert_rel!(common.difference.se.unwrap(), number(&case["difference_se"]), 1e-10);
        let peer = number(&case["difference_se_greenland_robins"]);
        assert_rel!(common.difference_std_error_greenland_robins, peer, 1e-10);
        let alike = found.homogeneity.as_ref().unwrap();
        assert_rel!(alike.breslow_day.p, number(&case["breslow_day_p"]), 1e-8);
        assert_rel!(alike.tarone.p, number(&case["tarone_p"]), 1e-8);
    }
}
