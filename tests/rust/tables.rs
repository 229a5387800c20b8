//! Tables of counts: chi-square, exact and three-way tests against published and computed values.

use proptest::prelude::*;
use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, ExactOptions, UnconditionalOrder, chi_square, fisher, freeman_halton, three_way, trend,
    unconditional,
};
use rootling::error::{CountError, Error};

use crate::support::{check, check_list, entry, number};

type Cells = [[u64; 2]; 2];

const FOUR_CELLS: [Cells; 12] = [
    [[3, 1], [1, 3]],
    [[10, 2], [3, 15]],
    [[7, 12], [8, 3]],
    [[20, 0], [14, 6]],
    [[156, 84], [84, 156]],
    [[8, 2], [1, 5]],
    [[0, 10], [5, 5]],
    [[5, 0], [0, 5]],
    [[1, 9], [11, 3]],
    [[3, 7], [3, 7]],
    [[43, 2], [40, 5]],
    [[74, 31], [43, 32]],
];

const PLUM: [Cells; 2] = [[[156, 84], [107, 133]], [[84, 156], [31, 209]]];

fn table(cells: Cells) -> ContingencyTable {
    ContingencyTable::new(cells.iter().map(|row| row.to_vec()).collect()).unwrap()
}

#[test]
fn four_cell_tests_agree_with_the_reference() {
    // expected.json test2x2_*: enumeration and chi2_contingency with scipy 1.17.1
    for cells in FOUR_CELLS {
        let [[a, b], [c, d]] = cells;
        let id = format!("test2x2_{a}_{b}_{c}_{d}");
        let values = entry(&id);
        let pair = |key: &str, place: usize| number(&values[key][place]);
        let found = chi_square(&table(cells)).unwrap();
        for (key, test) in [
            ("pearson", &found.pearson),
            ("yates", found.corrected.as_ref().unwrap()),
            ("lr_g2", &found.likelihood_ratio),
        ] {
            check_list(&id, key, &[test.statistic.unwrap(), test.p]);
            assert_rel!(test.p, pair(key, 1), 1e-6);
        }
        let exact = fisher(&table(cells)).unwrap();
        for (key, got) in [
            // Published sides are those of the first row, ours of the second.
            ("less", exact.p_higher),
            ("greater", exact.p_lower),
            ("two_sided_minlike", exact.p),
            ("midp_less", exact.mid_p_higher),
            ("midp_greater", exact.mid_p_lower),
            ("midp_minlike", exact.mid_p),
        ] {
            assert_rel!(got, number(&values["fisher"][key]), 1e-9);
        }
    }
}

#[test]
fn plum_tables_agree() {
    // expected.json plum_2x2_*: Bartlett 1935, data of Hoblyn & Palmer 1934
    for (id, cells) in [("plum_2x2_long", [[156, 84], [84, 156]]), ("plum_2x2_short", [[107, 133], [31, 209]])] {
        margin(id, cells);
        let found = chi_square(&table(cells)).unwrap();
        check(id, "lr_g2", found.likelihood_ratio.statistic.unwrap());
        check(id, "lr_p", found.likelihood_ratio.p);
        check(id, "fisher_two_sided_p", fisher(&table(cells)).unwrap().p);
    }
    // expected.json plum_margin_*: the same data pooled over one factor
    margin("plum_margin_planting", [[263, 217], [115, 365]]);
    margin("plum_margin_length", [[240, 240], [138, 342]]);
}

fn margin(id: &str, cells: Cells) {
    let found = chi_square(&table(cells)).unwrap();
    let corrected = found.corrected.unwrap();
    check(id, "pearson", found.pearson.statistic.unwrap());
    check(id, "pearson_p", found.pearson.p);
    check(id, "yates", corrected.statistic.unwrap());
    check(id, "yates_p", corrected.p);
}

#[test]
fn three_way_agrees_and_is_symmetric() {
    // expected.json plum_three_way, plum_three_way_recalled: Bartlett 1935, J. R. Stat. Soc. Suppl. 2:248-252
    let found = three_way(&PLUM).unwrap();
    check("plum_three_way", "pearson", found.pearson.statistic.unwrap());
    check("plum_three_way", "pearson_p", found.pearson.p);
    check("plum_three_way", "lr", found.likelihood_ratio.statistic.unwrap());
    check("plum_three_way", "lr_p", found.likelihood_ratio.p);
    check("plum_three_way", "df", found.pearson.df.unwrap());
    check("plum_three_way_recalled", "pearson", found.pearson.statistic.unwrap());
    // by definition: both conditional odds ratios of the expected counts agree
    let odds = |k: usize| {
        found.expected[[k, 0, 0]] * found.expected[[k, 1, 1]] / (found.expected[[k, 0, 1]] * found.expected[[k, 1, 0]])
    };
    assert_rel!(odds(0), odds(1), 1e-10);
    // by symmetry: exchanging two factors changes nothing
    let turned = [0, 1].map(|i: usize| [0, 1].map(|j: usize| [PLUM[0][i][j], PLUM[1][i][j]]));
    assert_rel!(three_way(&turned).unwrap().pearson.statistic.unwrap(), found.pearson.statistic.unwrap(), 1e-10);
    assert!(three_way(&[[[0, 0], [3, 4]], [[5, 6], [7, 8]]]).is_err());
    // by hand: equal odds ratios of 1, nothing is left over
    assert!(three_way(&[[[2, 4], [3, 6]], [[10, 20], [1, 2]]]).unwrap().pearson.statistic.unwrap() < 1e-12);
}

#[test]
fn larger_tables_agree_with_the_reference() {
    // expected.json rxc_*: R 4.2.2 chisq.test
    for id in ["rxc_a", "rxc_b", "rxc_c", "rxc_d"] {
        let found = chi_square(&ContingencyTable::new(inputs(id)).unwrap()).unwrap();
        check(id, "pearson", found.pearson.statistic.unwrap());
        check(id, "df", found.pearson.df.unwrap());
        check(id, "pearson_p", found.pearson.p);
        assert!(found.corrected.is_none());
    }
    // expected.json job_fisher_rxc: Agresti 2002, p. 57
    let text = include_str!("../data/job_satisfaction.csv");
    let counts: Vec<u64> =
        text.lines().skip(1).map(|line| line.rsplit(',').next().unwrap().trim().parse().unwrap()).collect();
    let found = chi_square(&ContingencyTable::new(counts.chunks(4).map(<[u64]>::to_vec).collect()).unwrap()).unwrap();
    check("job_fisher_rxc", "pearson", found.pearson.statistic.unwrap());
    check("job_fisher_rxc", "pearson_p", found.pearson.p);
    check("job_fisher_rxc", "g2", found.likelihood_ratio.statistic.unwrap());
    check("job_fisher_rxc", "g2_p", found.likelihood_ratio.p);
}

fn inputs(id: &str) -> Vec<Vec<u64>> {
    let all: serde_json::Value = serde_json::from_str(include_str!("../reference/expected.json")).unwrap();
    let found = all["entries"].as_array().unwrap().iter().find(|one| one["id"] == id).unwrap();
    serde_json::from_value(found["inputs"]["table"].clone()).unwrap()
}

#[test]
fn printed_exact_p_values_agree() {
    // expected.json tea_printed: Agresti 1990, p. 61 (one-sided, two-sided)
    let tea = fisher(&table([[3, 1], [1, 3]])).unwrap();
    check_list("tea_printed", "value", &[tea.p_lower, tea.p]);
    // expected.json twins_printed: Fisher 1970, p. 95; the table there is [[10, 3], [2, 15]]
    check_list("twins_printed", "value", &[fisher(&table([[10, 3], [2, 15]])).unwrap().p_lower]);
}

#[test]
fn far_tails_keep_their_digits() {
    // by hand: only one table is as extreme, P = 1 / C(2m, m) on one side, twice that on both; ln C by its product
    for m in [30_u64, 200, 500] {
        let ln_choose: f64 = (1..=m).map(|i| ((m + i) as f64 / i as f64).ln()).sum();
        let found = fisher(&table([[m, 0], [0, m]])).unwrap();
        assert_rel!(found.p_lower, (-ln_choose).exp(), 1e-11);
        assert_rel!(found.p, 2.0 * (-ln_choose).exp(), 1e-11);
    }
    // below the smallest float the P value is 0, not an error
    assert_eq!(fisher(&table([[900, 0], [0, 900]])).unwrap().p, 0.0);
}

#[test]
fn far_tails_of_large_tables_keep_their_digits() {
    // hypergeometric sums with mpmath 1.3 at 50 digits: log-gamma for the first term, its neighbours by their ratio
    assert_rel!(fisher(&table([[5300, 4700], [4000, 6000]])).unwrap().p_lower, 2.9989185894382189e-76, 1e-11);
    assert_rel!(
        fisher(&table([[305_000, 195_000], [286_600, 213_400]])).unwrap().p_lower,
        4.9842711555852593e-307,
        1e-11
    );
}

#[test]
fn residuals_of_a_four_cell_table_square_to_pearson() {
    // identity: each squared adjusted residual of a 2 x 2 table is Pearson's statistic (Haberman 1973)
    let found = chi_square(&table([[43, 2], [40, 5]])).unwrap();
    for residual in &found.residuals {
        assert_rel!(residual * residual, found.pearson.statistic.unwrap(), 1e-12);
    }
    // by hand: 90 plants, column total 7, row total 45, so 3.5
    assert_rel!(found.smallest_expected, 3.5, 1e-14);
}

#[test]
fn nothing_rooted_anywhere_is_an_ordinary_table() {
    // by hand: one table only has these margins, so every P is 1; a mid-P is one half
    for cells in [[[0, 20], [0, 25]], [[20, 0], [25, 0]]] {
        let table = table(cells);
        let chi = chi_square(&table).unwrap();
        assert_eq!((chi.pearson.statistic, chi.pearson.p, chi.likelihood_ratio.p), (Some(0.0), 1.0, 1.0));
        assert!(chi.residuals.iter().all(|residual| *residual == 0.0));
        let exact = fisher(&table).unwrap();
        assert_eq!((exact.p, exact.p_lower, exact.p_higher, exact.blaker, exact.mid_p), (1.0, 1.0, 1.0, 1.0, 0.5));
        assert_eq!(exact.odds_ratio, None);
        assert!(exact.odds_ratio_left_out.unwrap().ends_with("none can be told."));
        for order in [UnconditionalOrder::Boschloo, UnconditionalOrder::Barnard, UnconditionalOrder::BarnardUnpooled] {
            let found = unconditional(&table, order, 0.95, &Control::new()).unwrap().numbers;
            assert_eq!((found.p, found.p_lower, found.p_higher, found.value), (1.0, 1.0, 1.0, 0.0));
            assert!(found.low < 0.0 && found.high > 0.0);
        }
        assert_eq!(freeman_halton(&table, ExactOptions::default(), &Control::new()).unwrap().p, 1.0);
    }
    let found = trend(&[0, 0, 0], &[20, 25, 30], &[0.0, 1.0, 2.0], ExactOptions::default(), &Control::new()).unwrap();
    assert_eq!((found.slope, found.asymptotic.p, found.exact.p), (0.0, 1.0, 1.0));
}

#[test]
fn broken_tables_name_their_fault() {
    let fault = |cells: Vec<Vec<u64>>| match ContingencyTable::new(cells) {
        Err(Error::Count(error)) => error,
        other => panic!("{other:?}"),
    };
    assert_eq!(fault(vec![vec![1, 2], vec![3]]), CountError::RaggedTable { row: 2, found: 1, expected: 2 });
    assert_eq!(fault(vec![vec![1, 2]]), CountError::TableTooSmall { rows: 1, columns: 2 });
    assert_eq!(fault(vec![]), CountError::TableTooSmall { rows: 0, columns: 0 });
    assert_eq!(fault(vec![vec![1, 0, 2], vec![3, 0, 1]]), CountError::EmptyMargin { axis: "column", index: 2 });
    assert_eq!(fault(vec![vec![0, 0], vec![3, 1]]), CountError::EmptyMargin { axis: "row", index: 1 });
    assert!(matches!(fault(vec![vec![u64::MAX, 1], vec![3, 1]]), CountError::TooLarge { .. }));
    let wide = ContingencyTable::new(vec![vec![1, 2, 3], vec![3, 1, 2]]).unwrap();
    assert!(matches!(fisher(&wide), Err(Error::Count(CountError::NotDefined { .. }))));
}

#[test]
fn a_million_plants_are_quick() {
    // two routes: with a million plants the exact P is close to the corrected chi-square P
    let cells = [[300_000, 200_000], [299_000, 201_000]];
    let exact = fisher(&table(cells)).unwrap();
    let corrected = chi_square(&table(cells)).unwrap().corrected.unwrap();
    assert_rel!(exact.p, corrected.p, 1e-3);
}

proptest! {
    #[test]
    fn exact_tails_equal_enumeration(a in 0_u64..40, b in 0_u64..40, c in 0_u64..40, d in 0_u64..40) {
        prop_assume!(a + b > 0 && c + d > 0 && a + c > 0 && b + d > 0);
        // definition: hypergeometric probabilities by products of factorial logarithms, summed over all tables
        let ln_factorial = |n: u64| (2..=n).map(|i| (i as f64).ln()).sum::<f64>();
        let ln_choose = |n: u64, k: u64| ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k);
        let (first, second, rooted) = (a + b, c + d, a + c);
        let support = rooted.saturating_sub(second)..=rooted.min(first);
        let mass = |k: u64| (ln_choose(first, k) + ln_choose(second, rooted - k) - ln_choose(first + second, rooted)).exp();
        let sum = |keep: &dyn Fn(u64) -> bool| support.clone().filter(|k| keep(*k)).map(mass).sum::<f64>();
        let found = fisher(&table([[a, b], [c, d]])).unwrap();
        assert_rel!(found.p_higher, sum(&|k| k <= a), 1e-9);
        assert_rel!(found.p_lower, sum(&|k| k >= a), 1e-9);
        assert_rel!(found.p, sum(&|k| mass(k) <= mass(a) * (1.0 + 1e-7)), 1e-9);
        let turned = fisher(&table([[c, d], [a, b]])).unwrap();
        assert_rel!(turned.p, found.p, 1e-9);
        assert_rel!(turned.p_lower, found.p_higher, 1e-9);
        if let Some(ratio) = found.odds_ratio {
            prop_assert!(ratio.low <= ratio.value * (1.0 + 1e-9));
            prop_assert!(ratio.value <= ratio.high * (1.0 + 1e-9));
        }
    }
}
