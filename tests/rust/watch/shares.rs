//! Parts of a difference of two raw rates: a published example, sums, and a second route.

use std::collections::BTreeMap;

use rootling::counts::{Cells, parts};

/// Crude death rates of the United States in 1970 and 1985 by race (2) and age (11): population in thousands and deaths per 1,000.
/// Das Gupta 1993, Standardization and decomposition of rates, US Bureau of the Census, P23-186, table 5.3.
const YEARS: [[(f64, f64); 22]; 2] = [
    [
        (2968.0, 18.469),
        (11484.0, 0.751),
        (34614.0, 0.391),
        (30992.0, 1.146),
        (21983.0, 1.287),
        (20314.0, 2.672),
        (20928.0, 6.636),
        (16897.0, 15.691),
        (11339.0, 34.723),
        (5720.0, 79.763),
        (1315.0, 176.837),
        (535.0, 36.993),
        (2162.0, 1.352),
        (6120.0, 0.541),
        (4781.0, 2.040),
        (3096.0, 3.523),
        (2718.0, 6.746),
        (2363.0, 12.967),
        (1767.0, 24.471),
        (1149.0, 45.091),
        (448.0, 74.902),
        (117.0, 123.205),
    ],
    [
        (3041.0, 9.163),
        (11577.0, 0.462),
        (27450.0, 0.248),
        (32711.0, 0.929),
        (35480.0, 1.084),
        (27411.0, 1.810),
        (19555.0, 4.715),
        (19795.0, 12.187),
        (15254.0, 27.728),
        (8022.0, 64.068),
        (2472.0, 157.570),
        (707.0, 17.208),
        (2692.0, 0.738),
        (6473.0, 0.328),
        (6841.0, 1.103),
        (6547.0, 2.045),
        (4352.0, 3.724),
        (3034.0, 8.052),
        (2540.0, 17.812),
        (1749.0, 34.128),
        (804.0, 68.276),
        (236.0, 125.161),
    ],
];

fn year(at: usize) -> Cells {
    let cell = |(place, (size, rate)): (usize, &(f64, f64))| {
        (vec![(place / 11) as u32, (place % 11) as u32], (*size, size * rate))
    };
    YEARS[at].iter().enumerate().map(cell).collect()
}

#[test]
fn death_rates_of_two_years_part_into_age_race_and_rates() {
    let found = parts(&year(0), &year(1), 2).unwrap();
    // The crude rates as the report prints them, 9.422 and 8.736 (from memory; the sums of the table give them to these digits).
    assert_rel!(found.raw.0, 9.421_833, 1e-6);
    assert_rel!(found.raw.1, 8.735_618, 1e-6);
    assert_eq!((found.without_partner.abs() < 1e-12, found.overlap), (true, 1.0));
    let sum = found.rates + found.mix[0] + found.mix[1];
    assert_rel!(sum, found.raw.1 - found.raw.0, 1e-12);
    // Without the split by columns the rates part is Kitagawa's: the mean share times the change of the rate.
    let total = |at: usize| YEARS[at].iter().map(|(size, _)| size).sum::<f64>();
    let kitagawa: f64 = (0..22)
        .map(|i| {
            let share = (YEARS[0][i].0 / total(0) + YEARS[1][i].0 / total(1)) / 2.0;
            share * (YEARS[1][i].1 - YEARS[0][i].1)
        })
        .sum();
    let one: BTreeMap<_, _> =
        year(0).into_iter().map(|(cell, counts)| (vec![cell[0] * 11 + cell[1]], counts)).collect();
    let two: BTreeMap<_, _> =
        year(1).into_iter().map(|(cell, counts)| (vec![cell[0] * 11 + cell[1]], counts)).collect();
    assert_rel!(parts(&one, &two, 1).unwrap().rates, kitagawa, 1e-12);
    // Age pushes the rate up, lower rates pull it down, race adds little: the report's reading of its table.
    assert!(found.rates < -2.0 && found.mix[1] > 1.0 && found.mix[0].abs() < 0.1, "{found:?}");
}

#[test]
fn parts_of_two_columns_are_the_symmetric_formula_written_out() {
    // Das Gupta 1993, chapter 5, two columns: A = (N_ij / N_.j)^1/2 (N_i. / N)^1/2, and the three-factor effects.
    let (one, two) = (year(0), year(1));
    let found = parts(&one, &two, 2).unwrap();
    let factors = |cells: &Cells, cell: &Vec<u32>| {
        let sum =
            |test: &dyn Fn(&Vec<u32>) -> bool| cells.iter().filter(|(c, _)| test(c)).map(|(_, (n, _))| n).sum::<f64>();
        let (own, all) = (cells[cell].0, sum(&|_| true));
        let (row, column) = (sum(&|c| c[0] == cell[0]), sum(&|c| c[1] == cell[1]));
        let rate = cells[cell].1 / own;
        [rate, (own / column).sqrt() * (row / all).sqrt(), (own / row).sqrt() * (column / all).sqrt()]
    };
    let mut effects = [0.0; 3];
    for cell in one.keys() {
        let (x, y) = (factors(&one, cell), factors(&two, cell));
        for (k, effect) in effects.iter_mut().enumerate() {
            let (b, c) = ((k + 1) % 3, (k + 2) % 3);
            let mean = (x[b] * x[c] + y[b] * y[c]) / 3.0 + (x[b] * y[c] + y[b] * x[c]) / 6.0;
            *effect += mean * (y[k] - x[k]);
        }
    }
    assert_rel!(found.rates, effects[0], 1e-10);
    assert_rel!(found.mix[0], effects[1], 1e-9);
    assert_rel!(found.mix[1], effects[2], 1e-10);
}

#[test]
fn cells_of_one_side_alone_have_a_part_of_their_own() {
    let before = Cells::from([(vec![0], (100.0, 90.0)), (vec![1], (50.0, 20.0))]);
    let after = Cells::from([(vec![0], (100.0, 90.0)), (vec![2], (100.0, 95.0))]);
    let found = parts(&before, &after, 1).unwrap();
    assert!(found.rates.abs() < 1e-12 && found.mix[0].abs() < 1e-12);
    assert_rel!(found.without_partner, 185.0 / 200.0 - 110.0 / 150.0, 1e-12);
    assert_rel!(found.overlap, 200.0 / 350.0, 1e-12);
    assert!(parts(&before, &Cells::from([(vec![3], (1.0, 1.0))]), 1).is_none());
}
