//! Regression of counts with many zeros: published apple shoots, identities, and the limit of no spread.

use rootling::control::Control;
use rootling::math::regression::counts::{CountCell, CountFit, CountLaw, CountPattern, CountRegression, Zeros};
use serde_json::Value;

use crate::support::{entry, number};

/// Shoots of Marin et al. 1993 by photoperiod and BAP, as printed by Ridout et al. 1998, Table 1: pattern, roots, shoots.
fn shoots() -> Vec<(f64, f64, u64, f64)> {
    let text = include_str!("../../data/marin_1993.csv");
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    let row = |line: &str| {
        let parts: Vec<f64> = line.split(',').map(|part| part.trim().parse().unwrap()).collect();
        (parts[0], parts[1], parts[2] as u64, parts[3])
    };
    rows.map(row).collect()
}

/// By photoperiod: count part `1 + 16 h`, zero part the same or a constant.
fn by_photoperiod(law: CountLaw, zeros: Zeros, zero: &[&[f64]]) -> CountFit {
    let pattern = |at: usize| CountPattern {
        count: vec![1.0, at as f64],
        zero: zero.get(at).map_or(Vec::new(), |row| row.to_vec()),
        offset: 0.0,
    };
    let cell = |(hours, _, count, times)| CountCell { pattern: usize::from(hours > 12.0), count, times };
    let cells = shoots().into_iter().map(cell).collect();
    CountRegression { law, zeros, patterns: vec![pattern(0), pattern(1)], cells }.fit(&Control::new()).unwrap()
}

const BOTH: [&[f64]; 2] = [&[1.0, 0.0], &[1.0, 1.0]];
const ONE: [&[f64]; 2] = [&[1.0], &[1.0]];

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().map_or_else(|| vec![number(value)], |all| all.iter().map(number).collect())
}

/// Coefficients and likelihood of an entry; those of the packages' optimisers end where their tolerance lets them.
fn agrees(id: &str, fit: &CountFit, rel: f64) {
    let want = entry(id);
    let count = want.get("count").or_else(|| want.get("estimate")).unwrap();
    for (got, want) in fit.count.iter().zip(numbers(count)) {
        assert_rel!(*got, want, rel, "{id}");
    }
    if let Some(zero) = want.get("zero") {
        for (got, want) in fit.zero.iter().zip(numbers(zero)) {
            assert_rel!(*got, want, rel, "{id}");
        }
    }
    assert_rel!(fit.loglik, number(&want["loglik"]), 1e-9, "{id}");
    if let Some(theta) = want.get("theta") {
        assert_rel!(1.0 / fit.spread, number(theta), 10.0 * rel, "{id}");
    }
    for (got, want) in fit.se.iter().zip(numbers(&want["se"])) {
        assert_rel!(got.unwrap(), want, 1e-5, "{id}");
    }
}

#[test]
fn apple_shoots_agree_with_the_published_counts() {
    use CountLaw::{NegativeBinomial, Poisson};
    // tests/reference/expected.json, made with R 4.2.2 (glm, MASS 7.3.58.2 glm.nb, pscl 1.5.5 zeroinfl and hurdle)
    agrees("ridout_poisson_ph", &by_photoperiod(Poisson, Zeros::Plain, &[]), 1e-9);
    agrees("ridout_nb_ph", &by_photoperiod(NegativeBinomial, Zeros::Plain, &[]), 1e-6);
    agrees("ridout_zi_poisson_ph", &by_photoperiod(Poisson, Zeros::Added, &BOTH), 1e-6);
    agrees("ridout_zi_poisson_one", &by_photoperiod(Poisson, Zeros::Added, &ONE), 1e-6);
    agrees("ridout_zi_negbin_ph", &by_photoperiod(NegativeBinomial, Zeros::Added, &BOTH), 1e-6);
    agrees("ridout_zi_negbin_one", &by_photoperiod(NegativeBinomial, Zeros::Added, &ONE), 1e-6);
    agrees("ridout_hurdle_poisson", &by_photoperiod(Poisson, Zeros::Apart, &BOTH), 1e-6);
}

#[test]
fn two_parts_are_a_logit_and_a_truncated_law() {
    let whole = by_photoperiod(CountLaw::NegativeBinomial, Zeros::Apart, &BOTH);
    let cell = |(hours, _, count, times)| CountCell { pattern: usize::from(hours > 12.0), count, times };
    let some: Vec<CountCell> = shoots().into_iter().map(cell).filter(|cell| cell.count > 0).collect();
    let patterns = vec![[1.0, 0.0], [1.0, 1.0]]
        .into_iter()
        .map(|row| CountPattern { count: row.to_vec(), ..CountPattern::default() })
        .collect();
    let truncated = CountRegression { law: CountLaw::NegativeBinomial, zeros: Zeros::Truncated, patterns, cells: some };
    let truncated = truncated.fit(&Control::new()).unwrap();
    for (got, want) in whole.count.iter().zip(&truncated.count) {
        assert_rel!(*got, *want, 1e-9);
    }
    assert_rel!(whole.spread, truncated.spread, 1e-8);
    // 138 of 140 and 68 of 130 rooted.
    let zeros = 2.0 * (2.0_f64 / 140.0).ln()
        + 138.0 * (138.0_f64 / 140.0).ln()
        + 62.0 * (62.0_f64 / 130.0).ln()
        + 68.0 * (68.0_f64 / 130.0).ln();
    assert_rel!(whole.loglik, truncated.loglik + zeros, 1e-12);
    assert_rel!(whole.none[1], 62.0 / 130.0, 1e-9);
}

#[test]
fn a_truncated_law_keeps_the_mean_of_a_poisson_law() {
    let fit = by_photoperiod(CountLaw::Poisson, Zeros::Apart, &BOTH);
    let mut sums = [(0.0, 0.0); 2];
    for (hours, _, count, times) in shoots() {
        let sum = &mut sums[usize::from(hours > 12.0)];
        *sum = (sum.0 + times * count as f64, sum.1 + times);
    }
    for (mean, (total, size)) in fit.mean.iter().zip(sums) {
        assert_rel!(*mean, total / size, 1e-10);
    }
}

#[test]
fn no_spread_ends_as_a_poisson_law() {
    // Counts that vary less than a Poisson law has them, zero-truncated or not.
    let cell = |count, times| CountCell { pattern: 0, count, times };
    for zeros in [Zeros::Plain, Zeros::Truncated] {
        let given = |law| CountRegression {
            law,
            zeros,
            patterns: vec![CountPattern { count: vec![1.0], ..CountPattern::default() }],
            cells: vec![cell(3, 5.0), cell(4, 20.0), cell(5, 6.0)],
        };
        let wide = given(CountLaw::NegativeBinomial).fit(&Control::new()).unwrap();
        let plain = given(CountLaw::Poisson).fit(&Control::new()).unwrap();
        assert_eq!(wide, plain);
        assert_eq!(wide.spread, 0.0);
    }
    // A spread so small that it hardly shows is still found, by the same likelihood on both sides of it.
    let near: Vec<CountCell> = (0..=14).map(|count| cell(count, 1000.0 * near_poisson(count, 4.0, 1e-3))).collect();
    let given = CountRegression {
        law: CountLaw::NegativeBinomial,
        zeros: Zeros::Plain,
        patterns: vec![CountPattern { count: vec![1.0], ..CountPattern::default() }],
        cells: near,
    };
    let fit = given.fit(&Control::new()).unwrap();
    assert!(fit.loglik.is_finite() && fit.spread < 2e-3, "{fit:?}");
}

/// A negative binomial probability by its rising product.
fn near_poisson(count: u64, mean: f64, spread: f64) -> f64 {
    let rising: f64 = (0..count).map(|j| (1.0 + spread * j as f64) / (j + 1) as f64).product();
    rising * mean.powi(count as i32) * (1.0 + spread * mean).powf(-(count as f64) - 1.0 / spread)
}
