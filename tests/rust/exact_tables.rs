//! The exact r x c test: published values, peers, listing of all tables, and what must not change it.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use proptest::prelude::*;
use rootling::control::Control;
use rootling::counts::{ContingencyTable, ExactOptions, FreemanHalton, chi_square, fisher, freeman_halton};
use rootling::error::{CountError, Error};
use serde_json::Value;

use crate::support::{check, entry, number};

pub(crate) fn values(kind: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/tables.json")).unwrap();
    all[kind].as_array().unwrap().clone()
}

pub(crate) fn cells(value: &Value) -> Vec<Vec<u64>> {
    serde_json::from_value(value.clone()).unwrap()
}

fn exact(cells: &[Vec<u64>]) -> FreemanHalton {
    let table = ContingencyTable::new(cells.to_vec()).unwrap();
    freeman_halton(&table, ExactOptions::default(), &Control::new()).unwrap()
}

fn drawn(cells: &[Vec<u64>], draws: u64, seed: u64) -> FreemanHalton {
    let table = ContingencyTable::new(cells.to_vec()).unwrap();
    freeman_halton(&table, ExactOptions { work: 0, draws, seed }, &Control::new()).unwrap()
}

const LARGE: [[u64; 5]; 4] = [[8, 15, 11, 6, 8], [12, 6, 7, 9, 12], [5, 14, 10, 13, 7], [9, 3, 4, 5, 10]];

#[test]
fn agrees_with_listing_and_with_r() {
    // values/tables.json: every table listed with whole numbers; R 4.2.2 fisher.test; scipy 1.17.1 chi2_contingency
    let mut listed = 0;
    for case in values("tables") {
        let cells = cells(&case["table"]);
        let found = exact(&cells);
        assert_eq!(found.method.name(), "exact");
        // R's network algorithm keeps 1e-9 here; it is single precision in places.
        assert_rel!(found.p, number(&case["r_exact"]), 1e-9);
        if !case["listed"].is_null() {
            assert_rel!(found.p, number(&case["listed"]), 1e-11);
            listed += 1;
        }
        let chi = chi_square(&ContingencyTable::new(cells).unwrap()).unwrap();
        assert_rel!(chi.pearson.p, number(&case["pearson_p"]), 1e-9);
        assert_rel!(chi.pearson.statistic.unwrap(), number(&case["pearson"]), 1e-11);
        assert_rel!(chi.likelihood_ratio.statistic.unwrap(), number(&case["likelihood_ratio"]), 1e-10);
        assert_rel!(chi.likelihood_ratio.p, number(&case["likelihood_ratio_p"]), 1e-9);
    }
    assert!(listed > 100, "{listed} tables were listed");
}

#[test]
fn agrees_with_the_reference() {
    // expected.json rxc_*, job_fisher_rxc: R 4.2.2 fisher.test
    for id in ["rxc_a", "rxc_b", "rxc_c", "rxc_d"] {
        let all: Value = serde_json::from_str(include_str!("../reference/expected.json")).unwrap();
        let found = all["entries"].as_array().unwrap().iter().find(|one| one["id"] == id).unwrap().clone();
        assert_rel!(exact(&cells(&found["inputs"]["table"])).p, number(&entry(id)["fisher_p"]), 1e-9);
    }
    let job = [[1, 2, 1, 0], [3, 3, 6, 1], [10, 10, 14, 9], [6, 7, 12, 11]].map(|row: [u64; 4]| row.to_vec());
    check("job_fisher_rxc", "fisher_p", exact(&job).p);
    // expected.json job_fisher_printed: Agresti 2002, printed to four digits
    assert_rel!(exact(&job).p, 0.7827, 0.5e-4 / 0.7827);
    // expected.json mp6_fisher_printed: Mehta & Patel 1986, 5 x 7, printed to four digits
    let sparse = [
        [1, 2, 2, 1, 1, 0, 1],
        [2, 0, 0, 2, 3, 0, 0],
        [0, 1, 1, 1, 2, 7, 3],
        [1, 1, 2, 0, 0, 0, 1],
        [0, 1, 1, 1, 1, 0, 0],
    ]
    .map(|row: [u64; 7]| row.to_vec());
    assert_rel!(exact(&sparse).p, 0.03929, 0.5e-5 / 0.03929);
    let sampled = drawn(&sparse, 400_000, 3);
    assert_abs_diff_eq!(sampled.p, exact(&sparse).p, epsilon = 4.0 * sampled.se.unwrap());
}

#[test]
fn a_large_table_is_exact() {
    // issue 3: P = 0.07702423 for this table, by R 4.2 fisher.test in 193 s
    let found = exact(&LARGE.map(|row| row.to_vec()));
    assert_eq!(found.method.name(), "exact");
    assert_rel!(found.p, 0.07702423, 1e-7);
    assert!(found.steps.unwrap() < 400_000_000, "{:?} steps", found.steps);
}

#[test]
fn five_by_five_tables_of_a_hundred_are_exact() {
    // two routes: the exact sum against random tables, within four standard errors
    let table = [[4, 3, 1, 3, 5], [5, 3, 7, 9, 3], [7, 3, 1, 2, 5], [2, 6, 3, 4, 2], [8, 2, 4, 6, 2]]
        .map(|row: [u64; 5]| row.to_vec());
    let found = exact(&table);
    let sampled = drawn(&table, 100_000, 5);
    assert_eq!(found.method.name(), "exact");
    assert_abs_diff_eq!(found.p, sampled.p, epsilon = 4.0 * sampled.se.unwrap());
}

#[test]
fn every_split_of_the_columns_gives_one_p() {
    for table in [[[3, 1, 0], [0, 3, 1], [1, 0, 3]], [[4, 0, 0], [0, 2, 2], [0, 2, 2]]] {
        // by hand: margins 4, 4, 4 on both sides; all tables listed, weight 1 / product of factorials of the counts
        let factorial = |n: u64| (1..=n).product::<u64>() as f64;
        let weight = |cells: &[u64]| 1.0 / cells.iter().map(|n| factorial(*n)).product::<f64>();
        let observed = weight(&table.concat());
        let (mut all, mut below) = (0.0, 0.0);
        for (a, b, c, d) in (0..625).map(|k| (k % 5, k / 5 % 5, k / 25 % 5, k / 125 % 5)) {
            if a + b > 4 || c + d > 4 || a + c > 4 || b + d > 4 || a + b + c + d < 4 {
                continue;
            }
            let one = weight(&[a, b, 4 - a - b, c, d, 4 - c - d, 4 - a - c, 4 - b - d, a + b + c + d - 4]);
            all += one;
            below += if one <= observed * (1.0 + 1e-7) { one } else { 0.0 };
        }
        assert_rel!(exact(&table.map(|row| row.to_vec())).p, below / all, 1e-12);
    }
}

#[test]
fn strong_diagonals_of_equal_margins_are_exact() {
    // two routes: mirrored left and right parts against a drawn P
    let diagonal = |on: u64, off: u64| -> Vec<Vec<u64>> {
        (0..5).map(|i| (0..5).map(|j| if i == j { on } else { off }).collect()).collect()
    };
    let found = exact(&diagonal(8, 3));
    let sampled = drawn(&diagonal(8, 3), 100_000, 5);
    assert_eq!(found.method.name(), "exact");
    assert_abs_diff_eq!(found.p, sampled.p, epsilon = 4.0 * sampled.se.unwrap());
    // R 4.2.2: fisher.test(m, workspace = 2e8)$p.value, seven digits kept
    assert_rel!(found.p, 0.2094526, 5e-7);
    // by hand: nothing is less probable than all plants of a row in one column. There are 5! such tables of (20!)^5 / 100! each, with
    // 20! = 2432902008176640000 and 100! = 9.332621544394415e157.
    let each = 2_432_902_008_176_640_000.0_f64.powi(5) / 9.332621544394415e157;
    assert_rel!(exact(&diagonal(20, 0)).p, 120.0 * each, 1e-11);
}

#[test]
fn ties_of_equal_margins_count() {
    // by hand: margins 1, 1, 1 on both sides leave 6 equally probable tables
    let unit = [[1, 0, 0], [0, 1, 0], [0, 0, 1]].map(|row: [u64; 3]| row.to_vec());
    assert_rel!(exact(&unit).p, 1.0, 1e-12);
    // by hand: 2, 2 by 1, 1, 1, 1: 6 tables, all alike
    assert_rel!(exact(&[vec![1, 1, 0, 0], vec![0, 0, 1, 1]]).p, 1.0, 1e-12);
    // by hand: rows and columns 2, 2, 2; the six tables with three cells of 2 have weight 1/8 each, out of
    // 6!/(2! 2! 2!) / (2! 2! 2!) = 90 / 8, so P = (6 / 8) / (90 / 8) = 1 / 15
    let twos = [[2, 0, 0], [0, 2, 0], [0, 0, 2]].map(|row: [u64; 3]| row.to_vec());
    assert_rel!(exact(&twos).p, 1.0 / 15.0, 1e-12);
}

#[test]
fn far_tails_keep_their_digits() {
    // by hand: k blocks of m on the diagonal of a k x k: the k! tables of that kind share P = k! (m!)^k / (k m)!; the second
    // is 2.3e-283
    let ln_factorial = |n: u64| (2..=n).map(|k| (k as f64).ln()).sum::<f64>();
    // The logarithms of the second are ten times as long, and so is what rounding leaves of them.
    for (k, m, rel) in [(4_u64, 20_u64, 1e-10), (3, 200, 1e-9)] {
        let diagonal: Vec<Vec<u64>> = (0..k).map(|i| (0..k).map(|j| if i == j { m } else { 0 }).collect()).collect();
        let want = (ln_factorial(k) + k as f64 * ln_factorial(m) - ln_factorial(k * m)).exp();
        assert_rel!(exact(&diagonal).p, want, rel);
    }
}

#[test]
fn too_large_a_table_falls_back_and_says_so() {
    let rows: Vec<Vec<u64>> = (0..8).map(|i| (0..8).map(|j| 20 + (i * j) % 7).collect()).collect();
    let table = ContingencyTable::new(rows).unwrap();
    let options = ExactOptions { work: 2_000_000, draws: 2_000, seed: 11 };
    let found = freeman_halton(&table, options, &Control::new()).unwrap();
    assert_eq!((found.method.name(), found.draws, found.seed), ("drawn", Some(2_000), Some(11)));
    // definition: binomial standard error of the drawn share
    assert_eq!(found.se, Some((found.p * (1.0 - found.p) / 2_000.0).sqrt()));
    // more plants than exact work takes at all
    let many = ContingencyTable::new(vec![vec![40_000, 30_000, 9], vec![39_600, 30_400, 12]]).unwrap();
    let found = freeman_halton(&many, ExactOptions { draws: 20_000, ..options }, &Control::new()).unwrap();
    assert_eq!((found.method.name(), found.steps), ("drawn", None));
    // two routes: with so many plants the chi-square test says about the same
    let chi = chi_square(&many).unwrap().pearson.p;
    assert!(rel_eq!(found.p, chi, 0.1), "{} against {chi}", found.p);
    let few = freeman_halton(&many, ExactOptions { draws: 10, ..options }, &Control::new()).unwrap_err();
    assert_eq!(few.to_string(), "number of draws 10 is outside 99 to 1000000000");
}

#[test]
fn drawn_tables_of_any_size_say_what_chi_square_says() {
    // two routes: with so many plants the chi-square law holds; 20,000 draws leave a standard error of 0.0035
    for k in [1_000_000_u64, 10_000_000_000, 100_000_000_000_000] {
        let rows = vec![vec![k, 2 * k], vec![2 * k, 4 * k + 3 * (k as f64).sqrt() as u64]];
        let found = drawn(&rows, 20_000, 3).p;
        let want = chi_square(&ContingencyTable::new(rows).unwrap()).unwrap().pearson.p;
        assert!(abs_diff_eq!(found, want, epsilon = 0.018), "{k}: {found} against {want}");
    }
}

#[test]
fn threads_change_nothing_and_a_stop_stops() {
    let table = ContingencyTable::new(LARGE.map(|row| row.map(|n| n / 3 + 1).to_vec()).to_vec()).unwrap();
    for options in [ExactOptions::default(), ExactOptions { work: 0, draws: 5_000, seed: 2 }] {
        let run = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| freeman_halton(&table, options, &Control::new()).unwrap())
        };
        assert_eq!(run(1), run(3));
    }
    let control = Control::new();
    control.stop();
    assert_eq!(freeman_halton(&table, ExactOptions::default(), &control).unwrap_err(), Error::Interrupted);
    assert!(matches!(ContingencyTable::new(vec![vec![1, 2]]), Err(Error::Count(CountError::TableTooSmall { .. }))));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn order_and_side_do_not_matter(counts in prop::collection::vec(0_u64..7, 12), turn in 1_usize..4) {
        let rows: Vec<Vec<u64>> = counts.chunks(4).map(<[u64]>::to_vec).collect();
        prop_assume!(rows.iter().all(|row| row.iter().sum::<u64>() > 0));
        prop_assume!((0..4).all(|at| rows.iter().map(|row| row[at]).sum::<u64>() > 0));
        let p = exact(&rows).p;
        let turned: Vec<Vec<u64>> = (0..4).map(|at| rows.iter().map(|row| row[at]).collect()).collect();
        assert_rel!(exact(&turned).p, p, 1e-11);
        let mut mixed = rows.clone();
        mixed.rotate_left(turn % 3);
        for row in &mut mixed {
            row.rotate_right(turn);
        }
        assert_rel!(exact(&mixed).p, p, 1e-11);
        let sampled = drawn(&rows, 2_000, 17);
        let error = (p * (1.0 - p) / 2_000.0).sqrt();
        prop_assert!(abs_diff_eq!(sampled.p, p, epsilon = 5.0 * error + 2.0 / 2_000.0));
    }

    #[test]
    fn four_cells_are_fishers(a in 0_u64..30, b in 0_u64..30, c in 0_u64..30, d in 0_u64..30) {
        prop_assume!(a + b > 0 && c + d > 0 && a + c > 0 && b + d > 0);
        let rows = vec![vec![a, b], vec![c, d]];
        let want = fisher(&ContingencyTable::new(rows.clone()).unwrap()).unwrap().p;
        assert_rel!(exact(&rows).p, want, 1e-10);
    }
}
