//! Studentised range, many-to-one, and multivariate normal and t probabilities: 17-digit integrals
//! (`tests/reference/make/multiplicity.py`), published tables, closed forms, and one distribution against another.

use crate::support::number;
use approx::{abs_diff_eq, assert_abs_diff_eq};
use proptest::prelude::*;
use rootling::Error;
use rootling::control::Control;
use rootling::error::NumericError;
use rootling::math::distributions::dunnett::{Dunnett, Sides, loadings};
use rootling::math::distributions::multivariate::{Largest, Precision, Rectangle, rank, rectangle};
use rootling::math::distributions::{normal, student_t, studentized_range};
use serde_json::Value;
use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

/// Both tails of the one- and two-integral distributions: the trapezoidal rules hold 1e-12, constants 1e-13 and the table of the
/// normal tail 2e-12.
const TAIL: f64 = 1e-10;

fn entries(family: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../../reference/values/multiplicity.json"))
        .expect("multiplicity.json is JSON");
    all["entries"].as_array().expect("a list").iter().filter(|one| one["family"] == family).cloned().collect()
}

#[test]
fn studentised_range_agrees_with_the_integrals() {
    let list = entries("studentized_range");
    let mut worst: f64 = 0.0;
    for one in &list {
        let (q, dof, want) = (number(&one["q"]), number(&one["df"]), number(&one["want"]));
        let groups = one["groups"].as_u64().expect("groups") as usize;
        let got = match one["what"].as_str() {
            Some("sf") => studentized_range::sf(q, groups, dof),
            _ => studentized_range::cdf(q, groups, dof),
        };
        worst = worst.max((got / want - 1.0).abs());
        crate::assert_rel!(got, want, TAIL);
    }
    println!("studentised range: {} values, worst {worst:.1e}", list.len());
    assert!(list.len() >= 40);
}

#[test]
fn many_to_one_agrees_with_the_integrals() {
    let list = entries("dunnett");
    let mut worst: f64 = 0.0;
    for one in &list {
        let (q, dof, want) = (number(&one["q"]), number(&one["df"]), number(&one["want"]));
        let shared: Vec<f64> = one["lambdas"].as_array().expect("a list").iter().map(number).collect();
        let sides = if one["sides"] == 1 { Sides::One } else { Sides::Two };
        let dunnett = Dunnett::new(&shared, dof, sides);
        let got = if one["what"] == "sf" { dunnett.sf(q) } else { dunnett.cdf(q) };
        worst = worst.max((got / want - 1.0).abs());
        crate::assert_rel!(got, want, TAIL);
    }
    println!("many-to-one: {} values, worst {worst:.1e}", list.len());
    assert!(list.len() >= 24);
}

#[test]
fn studentised_range_reproduces_published_points() {
    // Pearson & Hartley 1970, Biometrika Tables vol. 1, table 29 (upper 5 % and 1 % points), from memory; held to the digits printed.
    let table = [
        (0.05, 3, 10.0, 3.88),
        (0.05, 8, 20.0, 4.77),
        (0.05, 10, 60.0, 4.65),
        (0.05, 5, 5.0, 5.67),
        (0.05, 3, f64::INFINITY, 3.31),
        (0.05, 20, f64::INFINITY, 5.01),
        (0.01, 3, 10.0, 5.27),
        (0.01, 5, 20.0, 5.29),
        (0.01, 4, f64::INFINITY, 4.40),
    ];
    for (alpha, groups, dof, want) in table {
        let got = studentized_range::isf(alpha, groups, dof);
        assert!(abs_diff_eq!(got, want, epsilon = 0.005_001), "{groups} groups, {dof} dof: {got} for {want}");
    }
}

#[test]
fn many_to_one_reproduces_published_points() {
    // Dunnett 1955, table 1a (one-sided 5 %), and Dunnett 1964, table II (two-sided 5 %), equal sizes, 1 to 5 groups against a
    // control; from memory, held to the digits printed.
    let tables = [
        (Sides::One, 5.0, [2.02, 2.44, 2.68, 2.85, 2.98]),
        (Sides::One, 20.0, [1.72, 2.03, 2.19, 2.30, 2.39]),
        (Sides::One, f64::INFINITY, [1.64, 1.92, 2.06, 2.16, 2.23]),
        (Sides::Two, 5.0, [2.57, 3.03, 3.29, 3.48, 3.62]),
        (Sides::Two, 20.0, [2.09, 2.38, 2.54, 2.65, 2.73]),
        (Sides::Two, f64::INFINITY, [1.96, 2.21, 2.35, 2.44, 2.51]),
    ];
    for (sides, dof, row) in tables {
        for (groups, want) in (1..).zip(row) {
            let got = Dunnett::of_sizes(4.0, &vec![4.0; groups], dof, sides).isf(0.05);
            assert!(
                abs_diff_eq!(got, want, epsilon = 0.005_5),
                "{sides:?}, {groups} groups, {dof} dof: {got} for {want}"
            );
        }
    }
}

#[test]
fn two_groups_and_one_comparison_are_student_t() {
    for dof in [1.0, 1.7, 3.0, 7.99, 8.01, 20.0, 500.0, 1e6, f64::INFINITY] {
        for t in [1e-3, 0.2, 1.0, 2.5, 6.0, 30.0] {
            let want = student_t::two_sided(t, dof);
            if want < 1e-250 {
                continue;
            }
            // Range of two = sqrt 2 |T|; one comparison = T, whatever its loading.
            crate::assert_rel!(studentized_range::sf(t * SQRT_2, 2, dof), want, TAIL);
            crate::assert_rel!(studentized_range::cdf(t * SQRT_2, 2, dof), 2.0 * student_t::cdf(t, dof) - 1.0, TAIL);
            crate::assert_rel!(Dunnett::new(&[0.8], dof, Sides::Two).sf(t), want, TAIL);
            crate::assert_rel!(Dunnett::new(&[0.3], dof, Sides::One).sf(t), student_t::sf(t, dof), TAIL);
            crate::assert_rel!(Dunnett::new(&[0.3], dof, Sides::One).cdf(-t), student_t::cdf(-t, dof), TAIL);
        }
    }
}

#[test]
fn independent_comparisons_multiply() {
    for (count, q) in [(2, 0.5), (7, 2.0), (30, 3.5)] {
        let one = 1.0 - 2.0 * normal::sf(q);
        // Loadings 0 and known variance: the product of the parts.
        let got = Dunnett::new(&vec![0.0; count as usize], f64::INFINITY, Sides::Two).cdf(q);
        crate::assert_rel!(got, one.powi(count), 1e-12);
        let size = count as usize;
        let identity: Vec<Vec<f64>> =
            (0..size).map(|i| (0..size).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        let asked =
            Rectangle { lower: &vec![-q; size], upper: &vec![q; size], covariance: &identity, df: f64::INFINITY };
        let found = rectangle(&asked, &Precision::default(), &Control::new()).unwrap();
        // Single normal tails come from the table with 1e-6.
        crate::assert_rel!(found.value, one.powi(count), 1e-6);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn range_quantiles_invert_and_grow(
        groups in 2_usize..60, ln_dof in 0.0_f64..9.0, ln_alpha in -20.0_f64..-0.01
    ) {
        let (dof, alpha) = (ln_dof.exp(), ln_alpha.exp());
        let q = studentized_range::isf(alpha, groups, dof);
        prop_assert!(rel_eq!(studentized_range::sf(q, groups, dof), alpha, 1e-9));
        prop_assert!(rel_eq!(studentized_range::sf(q, groups, dof) + studentized_range::cdf(q, groups, dof), 1.0, 1e-12));
        prop_assert!(rel_eq!(studentized_range::quantile(1.0 - alpha, groups, dof), q, 1e-6) || alpha < 1e-6);
        // More groups, a smaller tail, fewer df (in the outer part): larger points.
        prop_assert!(studentized_range::isf(alpha, groups + 1, dof) > q);
        prop_assert!(studentized_range::isf(0.9 * alpha, groups, dof) > q);
        prop_assert!(studentized_range::sf(1.01 * q, groups, dof) < alpha);
    }

    #[test]
    fn many_to_one_inverts_and_ignores_order(
        mut shared in prop::collection::vec(-0.95_f64..0.95, 1..7), ln_dof in 0.0_f64..7.0, alpha in 1e-6_f64..0.999, two in any::<bool>()
    ) {
        let (dof, sides) = (ln_dof.exp(), if two { Sides::Two } else { Sides::One });
        let dunnett = Dunnett::new(&shared, dof, sides);
        let q = dunnett.isf(alpha);
        prop_assert!(rel_eq!(dunnett.sf(q), alpha, 1e-8), "{q}: {}", dunnett.sf(q));
        prop_assert!(rel_eq!(dunnett.cdf(q) + dunnett.sf(q), 1.0, 1e-11));
        // Between one comparison and the sum over all.
        let alone = if two { student_t::two_sided(q, dof) } else { student_t::sf(q, dof) };
        prop_assert!(alpha >= alone * (1.0 - 1e-9) && alpha <= alone * shared.len() as f64 * (1.0 + 1e-9));
        shared.reverse();
        prop_assert_eq!(Dunnett::new(&shared, dof, sides).sf(q), dunnett.sf(q));
        // All signs turned: the same correlations.
        let turned: Vec<f64> = shared.iter().map(|l| -l).collect();
        prop_assert!(rel_eq!(Dunnett::new(&turned, dof, sides).sf(q), dunnett.sf(q), 1e-10));
    }
}

#[test]
fn ends_and_bad_input() {
    let inf = f64::INFINITY;
    assert_eq!(studentized_range::sf(0.0, 3, 5.0), 1.0);
    assert_eq!(studentized_range::cdf(-1.0, 3, 5.0), 0.0);
    assert_eq!(studentized_range::sf(inf, 3, 5.0), 0.0);
    assert_eq!(studentized_range::quantile(0.0, 3, 5.0), 0.0);
    assert_eq!(studentized_range::quantile(1.0, 3, 5.0), inf);
    let one = Dunnett::new(&[0.5, 0.4], 6.0, Sides::One);
    assert_eq!((one.cdf(inf), one.cdf(-inf), one.sf(inf), one.sf(-inf)), (1.0, 0.0, 0.0, 1.0));
    assert_eq!((one.quantile(0.0), one.quantile(1.0)), (-inf, inf));
    for got in [
        studentized_range::sf(f64::NAN, 3, 5.0),
        studentized_range::sf(1.0, 1, 5.0),
        studentized_range::sf(1.0, 3, 0.5),
        studentized_range::quantile(1.5, 3, 5.0),
        studentized_range::quantile(f64::NAN, 3, 5.0),
        Dunnett::new(&[], 5.0, Sides::Two).sf(1.0),
        Dunnett::new(&[1.0, 0.5], 5.0, Sides::Two).sf(1.0),
        Dunnett::new(&[0.5], f64::NAN, Sides::Two).sf(1.0),
        one.isf(-0.1),
    ] {
        assert!(got.is_nan(), "{got}");
    }
}

#[test]
fn loadings_are_found_or_refused() {
    let shared = [0.9, -0.7, 0.3, 0.0, 0.5];
    let product = |i: usize, j: usize| if i == j { 1.0 } else { shared[i] * shared[j] };
    let mut matrix: Vec<Vec<f64>> = (0..5).map(|i| (0..5).map(|j| product(i, j)).collect()).collect();
    let found = loadings(&matrix, 1e-9).unwrap();
    let sign = found[0].signum();
    for (got, want) in found.iter().zip(shared) {
        assert_abs_diff_eq!(sign * got, want, epsilon = 1e-12);
    }
    matrix[1][2] += 0.01;
    matrix[2][1] += 0.01;
    assert!(loadings(&matrix, 1e-9).is_none());
}

/// Correlations of all pairwise differences of means with the given variances.
fn pairwise(variances: &[f64]) -> Vec<Vec<f64>> {
    let pairs: Vec<(usize, usize)> =
        (0..variances.len()).flat_map(|i| (i + 1..variances.len()).map(move |j| (i, j))).collect();
    let sign = |pair: &(usize, usize), level: usize| {
        f64::from(u8::from(pair.0 == level)) - f64::from(u8::from(pair.1 == level))
    };
    let entry = |a: &(usize, usize), b: &(usize, usize)| {
        variances.iter().enumerate().map(|(level, v)| v * sign(a, level) * sign(b, level)).sum()
    };
    pairs.iter().map(|a| pairs.iter().map(|b| entry(a, b)).collect()).collect()
}

#[test]
fn orthants_have_their_closed_form() {
    // Three normal values: 1/8 + (asin r12 + asin r13 + asin r23) / (4 pi) (Sheppard 1899; David 1953).
    let matrix = vec![vec![1.0, 0.3, -0.5], vec![0.3, 1.0, 0.2], vec![-0.5, 0.2, 1.0]];
    let want = 0.125 + (0.3_f64.asin() + (-0.5_f64).asin() + 0.2_f64.asin()) / (4.0 * PI);
    // The scale of t does not matter for an orthant.
    for dof in [1.0, 6.0, f64::INFINITY] {
        let asked = Rectangle { lower: &[0.0; 3], upper: &[f64::INFINITY; 3], covariance: &matrix, df: dof };
        let found =
            rectangle(&asked, &Precision { absolute: 1e-6, relative: 0.0, ..Precision::default() }, &Control::new());
        let found = found.unwrap();
        assert!(abs_diff_eq!(found.value, want, epsilon = found.error) && found.error < 1e-5, "{found:?} for {want}");
    }
    // Mirrored, with other units: the same.
    let scaled: Vec<Vec<f64>> = matrix.iter().map(|row| row.iter().map(|v| 9.0 * v).collect()).collect();
    let mirrored = Rectangle { lower: &[f64::NEG_INFINITY; 3], upper: &[0.0; 3], covariance: &scaled, df: 6.0 };
    let found = rectangle(&mirrored, &Precision::default(), &Control::new()).unwrap();
    assert_abs_diff_eq!(found.value, want, epsilon = found.error.max(1e-7));
}

#[test]
fn singular_rectangles_equal_the_studentised_range() {
    for (groups, q, dof) in [(3, 2.4, 4.0), (6, 3.0, 15.0), (8, 3.1, f64::INFINITY)] {
        let covariance = pairwise(&vec![1.0; groups]);
        let size = covariance.len();
        assert_eq!(rank(&covariance).unwrap(), groups - 1);
        let (lower, upper) = (vec![-q * SQRT_2; size], vec![q * SQRT_2; size]);
        let asked = Rectangle { lower: &lower, upper: &upper, covariance: &covariance, df: dof };
        let found = rectangle(&asked, &Precision::default(), &Control::new()).unwrap();
        let want = studentized_range::cdf(q * SQRT_2, groups, dof);
        assert!(found.reached && abs_diff_eq!(found.value, want, epsilon = found.error), "{found:?} for {want}");
    }
}

#[test]
fn rank_one_is_exact() {
    let covariance = vec![vec![1.0, -2.0], vec![-2.0, 4.0]];
    let asked = Rectangle { lower: &[-1.0, -3.0], upper: &[2.0, 1.0], covariance: &covariance, df: 3.0 };
    let found = rectangle(&asked, &Precision::default(), &Control::new()).unwrap();
    // X2 = -2 X1: X1 in (-1, 2] and in [-1/2, 3/2).
    crate::assert_rel!(found.value, student_t::cdf(1.5, 3.0) - student_t::cdf(-0.5, 3.0), 1e-13);
    assert_eq!(found.error, 0.0);
}

#[test]
fn error_bounds_hold_and_seeds_repeat() {
    let shared = [0.9, 0.7, 0.5, 0.3, 0.6];
    let product = |i: usize, j: usize| if i == j { 1.0 } else { shared[i] * shared[j] };
    let covariance: Vec<Vec<f64>> = (0..5).map(|i| (0..5).map(|j| product(i, j)).collect()).collect();
    let want = Dunnett::new(&shared, 9.0, Sides::Two).cdf(2.3);
    let asked = Rectangle { lower: &[-2.3; 5], upper: &[2.3; 5], covariance: &covariance, df: 9.0 };
    let run = |seed| {
        let precision = Precision { absolute: 3e-4, relative: 0.0, seed, ..Precision::default() };
        rectangle(&asked, &precision, &Control::new()).unwrap()
    };
    let missed = (0..200).filter(|seed| (run(*seed).value - want).abs() > run(*seed).error).count();
    // 99 % bounds: 2 misses expected of 200, 8 or more with probability 0.001; stopping at a small error raises it a little.
    assert!(missed <= 8, "{missed} of 200");
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(pool.install(|| run(5)), run(5));
    assert_ne!(run(5).value, run(6).value);
}

#[test]
fn the_largest_of_all_pairs_is_the_studentised_range() {
    for (groups, dof) in [(3, 2.0), (4, 12.0), (5, f64::INFINITY), (6, 20.0)] {
        let largest =
            Largest::new(&pairwise(&vec![1.0; groups]), dof, Sides::Two, &Precision::default(), &Control::new())
                .unwrap();
        for t in [0.3, 1.0, 2.0, 3.0, 5.0, 9.0, 25.0] {
            let (got, want) = (largest.sf(t), studentized_range::sf(t * SQRT_2, groups, dof));
            // The bound is for 99 % of seeds; the interpolation and the last node add up to 1e-4 of the value.
            assert!(
                abs_diff_eq!(got.value, want, epsilon = 1.3 * got.error + 1e-4 * want),
                "{groups} {dof} {t}: {got:?} for {want}"
            );
            assert!(got.error <= (5e-3 * want).max(2e-5), "{groups} {dof} {t}: {got:?} for {want}");
        }
        let critical = largest.isf(0.05).unwrap();
        crate::assert_rel!(largest.sf(critical).value, 0.05, 1e-8);
        crate::assert_rel!(critical, studentized_range::isf(0.05, groups, dof) * FRAC_1_SQRT_2, 1e-3);
    }
}

#[test]
fn the_largest_of_comparisons_with_a_control_is_dunnetts() {
    let shared = [0.95, 0.8, 0.6, 0.2, 0.0, 0.5];
    let product = |i: usize, j: usize| if i == j { 1.0 } else { shared[i] * shared[j] };
    let covariance: Vec<Vec<f64>> = (0..6).map(|i| (0..6).map(|j| product(i, j)).collect()).collect();
    for (sides, dof) in [(Sides::One, 3.0), (Sides::Two, 11.0), (Sides::One, f64::INFINITY)] {
        let largest = Largest::new(&covariance, dof, sides, &Precision::default(), &Control::new()).unwrap();
        let dunnett = Dunnett::new(&shared, dof, sides);
        for t in [-3.0, -1.0, 0.0, 1.0, 2.0, 3.0, 6.0, 20.0] {
            let (got, want) = (largest.sf(t), dunnett.sf(t));
            if want < 1e-15 {
                // Beyond the last node: right to 1e-3 for correlations up to 0.76.
                crate::assert_rel!(got.value, want, 1e-3);
                continue;
            }
            assert!(
                abs_diff_eq!(got.value, want, epsilon = 1.3 * got.error + 1e-4 * want),
                "{sides:?} {dof} {t}: {got:?} for {want}"
            );
        }
        crate::assert_rel!(largest.isf(0.05).unwrap(), dunnett.isf(0.05), 1e-3);
    }
}

#[test]
fn the_same_statistic_twice_counts_once() {
    let covariance = vec![vec![1.0, 1.0, -1.0], vec![1.0, 1.0, -1.0], vec![-1.0, -1.0, 1.0]];
    let two = Largest::new(&covariance, 7.0, Sides::Two, &Precision::default(), &Control::new()).unwrap();
    // All three are one statistic up to sign.
    assert_eq!(two.sf(2.1).value, student_t::two_sided(2.1, 7.0));
    let one = Largest::new(&covariance, 7.0, Sides::One, &Precision::default(), &Control::new()).unwrap();
    // One-sided: the larger of T and -T, |T|.
    assert!(rel_eq!(one.sf(2.1).value, student_t::two_sided(2.1, 7.0), 1e-4));
}

#[test]
fn nearly_equal_and_nearly_opposite_statistics_are_resolved() {
    for r in [0.9_f64, 0.99, 0.999, -0.9, -0.99, -0.999] {
        let covariance = vec![vec![1.0, r], vec![r, 1.0]];
        let shared = [r.abs().sqrt(), r.abs().sqrt().copysign(r)];
        for (sides, dof) in
            [(Sides::One, f64::INFINITY), (Sides::One, 5.0), (Sides::Two, f64::INFINITY), (Sides::Two, 5.0)]
        {
            let largest = Largest::new(&covariance, dof, sides, &Precision::default(), &Control::new()).unwrap();
            let dunnett = Dunnett::new(&shared, dof, sides);
            for t in [-2.0, -0.5, -0.05, 0.0, 0.02, 0.1, 0.5, 1.0, 2.0, 3.0, 5.0] {
                let (got, want) = (largest.sf(t), dunnett.sf(t));
                assert!(
                    abs_diff_eq!(got.value, want, epsilon = 1.3 * got.error + 2e-4 * want),
                    "{r} {sides:?} {dof} {t}: {got:?} for {want}"
                );
            }
        }
    }
}

#[test]
fn results_do_not_depend_on_threads_and_stop_when_asked() {
    let covariance = pairwise(&[1.0, 2.0, 0.5, 1.5]);
    let run = || Largest::new(&covariance, 10.0, Sides::Two, &Precision::default(), &Control::new()).unwrap().sf(2.5);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(pool.install(run), run());
    let control = Control::new();
    control.stop();
    let stopped = Largest::new(&covariance, 10.0, Sides::Two, &Precision::default(), &control);
    assert_eq!(stopped.err(), Some(Error::Interrupted));
    let asked = Rectangle { lower: &[-1.0; 6], upper: &[1.0; 6], covariance: &covariance, df: 5.0 };
    assert_eq!(rectangle(&asked, &Precision::default(), &control).err(), Some(Error::Interrupted));
}

#[test]
fn matrices_and_bounds_are_checked() {
    let of = |covariance: &[Vec<f64>], lower: &[f64], dof: f64| {
        let asked = Rectangle { lower, upper: &[1.0, 1.0], covariance, df: dof };
        rectangle(&asked, &Precision::default(), &Control::new()).unwrap_err()
    };
    let good = [vec![1.0, 0.5], vec![0.5, 1.0]];
    let low = [-1.0, -1.0];
    for bad in [
        vec![vec![1.0, 0.5], vec![0.4, 1.0]],
        vec![vec![1.0, 1.5], vec![1.5, 1.0]],
        vec![vec![-1.0, 0.0], vec![0.0, 1.0]],
        vec![vec![1.0], vec![0.5, 1.0]],
        vec![vec![1.0, f64::NAN], vec![f64::NAN, 1.0]],
    ] {
        assert!(matches!(of(&bad, &low, 5.0), Error::Numeric(NumericError::NotCovariance { .. })));
    }
    // Pairwise possible, jointly not.
    let three = [vec![1.0, 0.9, -0.9], vec![0.9, 1.0, 0.9], vec![-0.9, 0.9, 1.0]];
    assert!(matches!(rank(&three), Err(Error::Numeric(NumericError::NotCovariance { .. }))));
    assert!(matches!(of(&good, &[0.0], 5.0), Error::Numeric(NumericError::Lengths { expected: 2, given: 1, .. })));
    assert!(matches!(of(&good, &low, 0.0), Error::Numeric(NumericError::DegreesOfFreedom { .. })));
    assert!(matches!(of(&good, &[f64::NAN, 0.0], 5.0), Error::Numeric(NumericError::NotANumber { .. })));
    let flat = [vec![0.0, 0.0], vec![0.0, 1.0]];
    let none = Largest::new(&flat, 5.0, Sides::Two, &Precision::default(), &Control::new());
    assert!(matches!(none, Err(Error::Numeric(NumericError::NoVariance { row: 0 }))));
}
