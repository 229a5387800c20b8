//! Tables in strata: published values, peers, and exact laws in whole numbers.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::control::Control;
use rootling::counts::{Strata, Stratified, StratifiedOptions, stratified};
use rootling::math::distributions::chi_squared;
use serde_json::Value;

use crate::exact_tables::values;
use crate::support::{check, check_list, number};

/// Published effects are those of the first row against the second, ours of the second against the first: rows of 2 x 2 tables change
/// places.
fn run(mut tables: Vec<Vec<Vec<u64>>>) -> Stratified {
    tables
        .iter_mut()
        .filter(|table| table.len() == 2 && table.iter().all(|row| row.len() == 2))
        .for_each(|table| table.reverse());
    stratified(&Strata::new(tables).unwrap(), &StratifiedOptions::default(), &Control::new()).unwrap()
}

/// Tables from a file of levels and counts: `cell` gives stratum, row and column of a line.
fn read(text: &str, cell: impl Fn(&[&str]) -> (usize, usize, usize), strata: usize) -> Vec<Vec<Vec<u64>>> {
    let mut tables = vec![vec![vec![0; 2]; 2]; strata];
    for line in text.lines().skip(1) {
        let parts: Vec<&str> = line.trim().split(',').collect();
        let (k, i, j) = cell(&parts);
        tables[k][i][j] = parts.last().unwrap().parse().unwrap();
    }
    tables
}

fn ucb() -> Vec<Vec<Vec<u64>>> {
    let at = |name: &str, other: &str| usize::from(name != other);
    read(
        include_str!("../data/bickel_1975.csv"),
        |p| ((p[2].as_bytes()[0] - b'A') as usize, at(p[0], "Admitted"), at(p[1], "Male")),
        6,
    )
}

fn rabbits() -> Vec<Vec<Vec<u64>>> {
    let levels = ["1/8", "1/4", "1/2", "1", "4"];
    read(
        include_str!("../data/rabbits_penicillin.csv"),
        |p| {
            let level = levels.iter().position(|level| *level == p[0]).unwrap();
            (level, usize::from(p[2] != "none"), usize::from(p[1] != "cured"))
        },
        5,
    )
}

fn plum() -> Vec<Vec<Vec<u64>>> {
    vec![vec![vec![156, 84], vec![84, 156]], vec![vec![107, 133], vec![31, 209]]]
}

#[test]
fn plum_agrees_with_the_reference() {
    // expected.json plum_cmh, plum_mh_rd_rr: R 4.2.2 mantelhaen.test, metafor 3.8.1, vcd 1.4.11
    let found = run(plum());
    let common = found.common.unwrap();
    let alike = found.homogeneity.unwrap();
    for (key, got) in [
        ("cmh", common.test.statistic.unwrap()),
        ("cmh_p", common.test.p),
        ("cmh_corrected", common.corrected.statistic.unwrap()),
        ("cmh_corrected_p", common.corrected.p),
        ("mh_or", common.odds_ratio.value),
        ("exact_p", found.exact.unwrap().p),
        ("breslow_day", alike.breslow_day.statistic.unwrap()),
        ("breslow_day_p", alike.breslow_day.p),
        ("tarone", alike.tarone.statistic.unwrap()),
        ("tarone_p", alike.tarone.p),
        ("woolf", alike.woolf.as_ref().unwrap().statistic.unwrap()),
        ("woolf_p", alike.woolf.as_ref().unwrap().p),
    ] {
        check("plum_cmh", key, got);
    }
    check_list("plum_cmh", "mh_or_ci_rbg", &[common.odds_ratio.low, common.odds_ratio.high]);
    check("plum_mh_rd_rr", "rd", common.difference.value);
    check("plum_mh_rd_rr", "rd_se", common.difference.se.unwrap());
    check_list("plum_mh_rd_rr", "rd_ci", &[common.difference.low, common.difference.high]);
    check("plum_mh_rd_rr", "log_rr", common.ratio.value.ln());
    check("plum_mh_rd_rr", "log_rr_se", common.ratio.se.unwrap());
    check_list("plum_mh_rd_rr", "log_rr_ci", &[common.ratio.low.ln(), common.ratio.high.ln()]);
    // expected.json plum_cmh_length: the other factor within planting times
    let turned = vec![vec![vec![156, 84], vec![107, 133]], vec![vec![84, 156], vec![31, 209]]];
    let found = run(turned);
    let common = found.common.unwrap();
    check("plum_cmh_length", "cmh", common.test.statistic.unwrap());
    check("plum_cmh_length", "mh_or", common.odds_ratio.value);
    check_list("plum_cmh_length", "mh_or_ci_rbg", &[common.odds_ratio.low, common.odds_ratio.high]);
    let alike = found.homogeneity.unwrap();
    check("plum_cmh_length", "breslow_day", alike.breslow_day.statistic.unwrap());
    check("plum_cmh_length", "tarone", alike.tarone.statistic.unwrap());
}

#[test]
fn admissions_agree_with_the_reference() {
    // expected.json ucb_cmh, ucb_cmh_printed: Bickel et al. 1975, R 4.2.2 mantelhaen.test, metafor 3.8.1
    let found = run(ucb());
    let common = found.common.unwrap();
    let alike = found.homogeneity.unwrap();
    for (key, got) in [
        ("cmh_corrected", common.corrected.statistic.unwrap()),
        ("cmh_corrected_p", common.corrected.p),
        ("cmh", common.test.statistic.unwrap()),
        ("cmh_p", common.test.p),
        ("mh_or", common.odds_ratio.value),
        ("breslow_day", alike.breslow_day.statistic.unwrap()),
        ("breslow_day_p", alike.breslow_day.p),
        ("tarone", alike.tarone.statistic.unwrap()),
        ("tarone_p", alike.tarone.p),
        ("woolf", alike.woolf.unwrap().statistic.unwrap()),
        ("exact_p", found.exact.unwrap().p),
    ] {
        check("ucb_cmh", key, got);
    }
    check_list("ucb_cmh", "ci", &[common.odds_ratio.low, common.odds_ratio.high]);
    check("ucb_cmh_printed", "or", common.odds_ratio.value);
    check("ucb_cmh_printed", "stat", common.corrected.statistic.unwrap());
}

#[test]
fn rabbits_agree_with_the_reference_beyond_a_loose_root() {
    // expected.json rabbits_cmh, rabbits_printed: Mantel 1963 in Agresti 1990, p. 247; R 4.2.2 mantelhaen.test
    let found = run(rabbits());
    assert_eq!(found.uninformative, [1, 5]);
    let (common, exact) = (found.common.unwrap(), found.exact.unwrap());
    for (key, got) in [
        ("cmh_corrected", common.corrected.statistic.unwrap()),
        ("cmh_corrected_p", common.corrected.p),
        ("cmh", common.test.statistic.unwrap()),
        ("cmh_p", common.test.p),
        ("mh_or", common.odds_ratio.value),
        ("exact_S", exact.statistic),
        ("exact_p", exact.p),
    ] {
        check("rabbits_cmh", key, got);
    }
    // convolution of noncentral hypergeometric laws, scipy 1.17.1; R stops at 529.84 for the upper limit
    assert_rel!(exact.odds_ratio.value, 10.361046349488714, 1e-9);
    assert_rel!(exact.odds_ratio.low, 1.0773877635180333, 1e-9);
    assert_rel!(exact.odds_ratio.high, 531.5127828899377, 1e-9);
    assert_rel!(exact.p_higher, 0.0199724517906336, 1e-9);
    assert_rel!(exact.p_lower, 0.9986225895316805, 1e-9);
    assert!(exact.odds_ratio_mid_p.high < exact.odds_ratio.high);
}

#[test]
fn vaccine_trials_agree_with_the_reference() {
    // expected.json bcg_fixed: Colditz et al. 1994, metafor 3.8.1 rma.mh
    let text = include_str!("../data/colditz_1994.csv");
    let tables: Vec<Vec<Vec<u64>>> = text
        .lines()
        .skip(1)
        .map(|line| {
            let n: Vec<u64> = line.split(',').skip(3).take(4).map(|cell| cell.trim().parse().unwrap()).collect();
            vec![vec![n[0], n[1]], vec![n[2], n[3]]]
        })
        .collect();
    let found = run(tables);
    let (common, alike) = (found.common.unwrap(), found.homogeneity.unwrap());
    let want = crate::support::entry("bcg_fixed");
    assert_rel!(common.odds_ratio.value.ln(), number(&want["mh_log_or"]["intrcpt"]), 1e-9);
    assert_rel!(common.odds_ratio.se.unwrap(), number(&want["mh_log_or"]["2"]), 1e-9);
    assert_rel!(common.ratio.value.ln(), number(&want["mh_log_rr"]["intrcpt"]), 1e-9);
    assert_rel!(common.ratio.se.unwrap(), number(&want["mh_log_rr"]["2"]), 1e-9);
    check("bcg_fixed", "breslow_day", alike.breslow_day.statistic.unwrap());
    check("bcg_fixed", "tarone", alike.tarone.statistic.unwrap());
}

#[test]
fn generated_strata_agree_with_peers() {
    // values/tables.json: R 4.2.2 mantelhaen.test, statsmodels 0.15.0 StratifiedTable, laws in whole numbers
    for case in values("strata") {
        let tables: Vec<Vec<Vec<u64>>> = serde_json::from_value(case["strata"].clone()).unwrap();
        let found = run(tables);
        if let Some(general) = case["general"].as_array() {
            let test = &found.generalised.general;
            assert_rel!(test.statistic.unwrap(), number(&general[0]), 1e-9);
            assert_rel!(test.df.unwrap(), number(&general[1]), 1e-12);
            assert_rel!(test.p, number(&general[2]), 1e-9);
            continue;
        }
        four_cells(&case, &found);
    }
}

fn four_cells(case: &Value, found: &Stratified) {
    let (common, exact) = (found.common.as_ref().unwrap(), found.exact.as_ref().unwrap());
    let list = |name: &str, at: usize| number(&case[name][at]);
    assert_rel!(common.test.p, list("plain", 1), 1e-9);
    assert_rel!(found.generalised.general.p, list("plain", 1), 1e-9);
    assert_rel!(found.generalised.correlation.p, list("plain", 1), 1e-9);
    assert_rel!(common.corrected.p, list("corrected", 1), 1e-9);
    assert_rel!(common.odds_ratio.value, number(&case["odds_ratio"]), 1e-10);
    assert_rel!(common.odds_ratio.low, list("odds_ratio_limits", 0), 1e-8);
    assert_rel!(common.odds_ratio.high, list("odds_ratio_limits", 1), 1e-8);
    assert_rel!(common.odds_ratio.se.unwrap(), number(&case["log_odds_se"]), 1e-9);
    let alike = found.homogeneity.as_ref().unwrap();
    assert_rel!(alike.breslow_day.statistic.unwrap() + 1.0, number(&case["breslow_day"]) + 1.0, 1e-8);
    assert_rel!(alike.tarone.statistic.unwrap() + 1.0, number(&case["tarone"]) + 1.0, 1e-8);
    let want = &case["exact"];
    for (name, got) in [("p", exact.p), ("less", exact.p_lower), ("greater", exact.p_higher)] {
        assert_rel!(got, number(&want[name]), 1e-10);
    }
    assert_rel!(exact.p, number(&case["r_exact_p"]), 1e-9);
    assert_rel!(exact.odds_ratio.value, number(&want["odds_ratio"]), 1e-8);
    for (name, estimate) in [("exact_limits", &exact.odds_ratio), ("mid_p_limits", &exact.odds_ratio_mid_p)] {
        assert_rel!(estimate.low, number(&want[name][0]), 1e-8);
        assert_rel!(estimate.high, number(&want[name][1]), 1e-8);
    }
    // R's own limits stop at its root finder: near, but no more
    for (at, got) in [(0, exact.odds_ratio.low), (1, exact.odds_ratio.high)] {
        let peer = list("r_exact_limits", at);
        assert!(!peer.is_finite() || rel_eq!(got, peer, 0.02), "{got} against {peer}");
    }
}

#[test]
fn one_stratum_is_the_single_table() {
    let found = run(vec![vec![vec![10, 2], vec![3, 15]]]);
    let table = rootling::counts::ContingencyTable::new(vec![vec![3, 15], vec![10, 2]]).unwrap();
    let single = rootling::counts::fisher(&table).unwrap();
    let exact = found.exact.unwrap();
    assert_rel!(exact.p, single.p, 1e-11);
    let single_odds = single.odds_ratio.as_ref().unwrap();
    assert_rel!(exact.odds_ratio.value, single_odds.value, 1e-9);
    assert_rel!(exact.odds_ratio.low, single_odds.low, 1e-9);
    assert_rel!(exact.odds_ratio.high, single_odds.high, 1e-9);
    assert_rel!(found.common.unwrap().odds_ratio.value, 10.0 * 15.0 / 6.0, 1e-12); // by hand: a d / (b c)
    assert!(found.homogeneity.is_none());
    // by hand: (N - 1) / N times Pearson's chi-square
    let pearson = rootling::counts::chi_square(&table).unwrap().pearson.statistic.unwrap();
    assert_rel!(found.generalised.general.statistic.unwrap(), pearson * 29.0 / 30.0, 1e-11);
}

#[test]
fn ends_have_bounds_only() {
    let found = run(vec![vec![vec![5, 0], vec![2, 4]], vec![vec![3, 0], vec![1, 3]]]);
    let (common, exact) = (found.common.unwrap(), found.exact.unwrap());
    assert_eq!((common.odds_ratio.value, common.odds_ratio.low), (f64::INFINITY, 0.0));
    assert_eq!((exact.odds_ratio.value, exact.odds_ratio.high), (f64::INFINITY, f64::INFINITY));
    assert!(exact.odds_ratio.low > 1.0);
    // mirror: rows exchanged
    let other = run(vec![vec![vec![2, 4], vec![5, 0]], vec![vec![1, 3], vec![3, 0]]]).exact.unwrap();
    assert_eq!((other.odds_ratio.value, other.odds_ratio.low), (0.0, 0.0));
    assert_rel!(other.odds_ratio.high, 1.0 / exact.odds_ratio.low, 1e-9);
    assert_rel!(other.p, exact.p, 1e-11);
}

#[test]
fn bad_strata_are_named() {
    let fault = |tables: Vec<Vec<Vec<u64>>>| Strata::new(tables).unwrap_err().to_string();
    let good = vec![vec![1, 2], vec![3, 4]];
    assert_eq!(
        fault(vec![good.clone(), vec![vec![1, 2, 3], vec![4, 5, 6]]]),
        "stratum 2 is 2 x 3 where the first is 2 x 2; all must have the same shape"
    );
    assert_eq!(
        fault(vec![good.clone(), vec![vec![1, 2], vec![3]]]),
        "entry 2: row 2 of the table is 1 long where the first is 2 long; give all rows the same length"
    );
    assert!(fault(vec![]).starts_with("a table of 0 x 0"));
    assert!(fault(vec![vec![vec![3, 4], vec![0, 0]]]).starts_with("an association within strata is not defined"));
    let options = StratifiedOptions { row_scores: Some(vec![1.0]), ..StratifiedOptions::default() };
    let error = stratified(&Strata::new(vec![good]).unwrap(), &options, &Control::new()).unwrap_err();
    assert_eq!(error.to_string(), "scores: 1 for 2 rows; give one for each");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn exchanging_rows_mirrors(counts in prop::collection::vec(0_u64..15, 12)) {
        let tables: Vec<Vec<Vec<u64>>> =
            counts.chunks(4).map(|n| vec![vec![n[0], n[1]], vec![n[2], n[3]]]).collect();
        let turned: Vec<Vec<Vec<u64>>> = tables.iter().map(|t| vec![t[1].clone(), t[0].clone()]).collect();
        prop_assume!(Strata::new(tables.clone()).is_ok());
        let (one, other) = (run(tables.clone()), run(turned));
        let (exact, mirrored) = (one.exact.unwrap(), other.exact.unwrap());
        assert_rel!(exact.p, mirrored.p, 1e-10);
        assert_rel!(exact.p_lower, mirrored.p_higher, 1e-10);
        prop_assert!(exact.odds_ratio.low <= exact.odds_ratio.value && exact.odds_ratio.value <= exact.odds_ratio.high);
        let (a, b) = (one.common.unwrap(), other.common.unwrap());
        prop_assert!(abs_diff_eq!(a.difference.value, -b.difference.value, epsilon = 1e-12) || a.difference.value.is_nan());
        // the order of strata does not matter
        let mut shuffled = tables;
        shuffled.rotate_left(1);
        let again = run(shuffled);
        assert_rel!(again.exact.unwrap().p, exact.p, 1e-10);
        assert_rel!(chi_squared::sf(again.common.unwrap().test.statistic.unwrap(), 1.0), a.test.p, 1e-9);
    }
}
