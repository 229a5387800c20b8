//! Single-step adjustments on plain numbers, and letter groups.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::Error;
use rootling::control::Control;
use rootling::effects::{Direction, Family, LetterOrder, Simultaneous, SingleStep, letter_groups, single_step};
use rootling::error::{CountError, NumericError};
use rootling::math::distributions::multivariate::Precision;
use rootling::math::distributions::{chi_squared, fisher_f, normal, student_t, studentized_range};
use rootling::math::rng::{stream, uniform};
use std::f64::consts::SQRT_2;

/// All i < j.
fn pairs(size: usize) -> Vec<(usize, usize)> {
    (0..size).flat_map(|i| (i + 1..size).map(move |j| (i, j))).collect()
}

/// Pairwise differences of independent means: estimates and covariance.
fn pairwise(means: &[f64], variances: &[f64]) -> (Vec<f64>, Vec<Vec<f64>>) {
    let pairs = pairs(means.len());
    let sign = |pair: &(usize, usize), level: usize| {
        f64::from(u8::from(pair.0 == level)) - f64::from(u8::from(pair.1 == level))
    };
    let entry = |a: &(usize, usize), b: &(usize, usize)| {
        variances.iter().enumerate().map(|(level, v)| v * sign(a, level) * sign(b, level)).sum()
    };
    let covariance = pairs.iter().map(|a| pairs.iter().map(|b| entry(a, b)).collect()).collect();
    (pairs.iter().map(|(i, j)| means[*i] - means[*j]).collect(), covariance)
}

fn run(family: &Family<'_>, method: SingleStep) -> Simultaneous {
    single_step(family, method, 0.95, &Precision::default(), &Control::new()).unwrap()
}

const MEANS: [f64; 4] = [0.72, 0.66, 0.45, 0.38];

#[test]
fn equal_variances_make_joint_and_range_agree() {
    let (estimates, covariance) = pairwise(&MEANS, &[0.004; 4]);
    let family = Family { estimates: &estimates, covariance: &covariance, df: 12.0, direction: Direction::Either };
    let range = run(&family, SingleStep::TukeyKramer { groups: 4 });
    let joint = run(&family, SingleStep::Joint);
    for (a, b) in range.rows.iter().zip(&joint.rows) {
        crate::assert_rel!(a.p, studentized_range::sf(a.statistic.abs() * SQRT_2, 4, 12.0), 1e-12);
        assert!(abs_diff_eq!(a.p, b.p, epsilon = 1.3 * b.p_error + 1e-4 * a.p), "{a:?} {b:?}");
        crate::assert_rel!(a.low, b.low, 5e-3);
    }
}

#[test]
fn unequal_variances_joint_agrees_with_simulation_and_is_below_the_range() {
    let variances = [0.002, 0.012, 0.004, 0.006];
    let (estimates, covariance) = pairwise(&MEANS, &variances);
    let dof = 9.0;
    let family = Family { estimates: &estimates, covariance: &covariance, df: dof, direction: Direction::Either };
    let joint = run(&family, SingleStep::Joint);
    let range = run(&family, SingleStep::TukeyKramer { groups: 4 });
    // By simulation of the means under no difference: an independent route.
    let mut rng = stream(5, 0);
    let draws = 60_000;
    let mut beyond = vec![0_u32; estimates.len()];
    for _ in 0..draws {
        let noise: Vec<f64> =
            variances.iter().map(|v| v.sqrt() * normal::quantile(uniform(&mut rng) + 1e-17)).collect();
        let scale = (chi_squared::quantile(uniform(&mut rng) + 1e-17, dof) / dof).sqrt();
        let (differences, _) = pairwise(&noise, &variances);
        let largest =
            differences.iter().zip(&joint.rows).map(|(d, row)| d.abs() / (scale * row.se)).fold(0.0, f64::max);
        for (count, row) in beyond.iter_mut().zip(&joint.rows) {
            *count += u32::from(largest >= row.statistic.abs());
        }
    }
    for ((count, joint), range) in beyond.iter().zip(&joint.rows).zip(&range.rows) {
        let share = f64::from(*count) / f64::from(draws);
        let spread = (joint.p * (1.0 - joint.p) / f64::from(draws)).sqrt();
        // Four standard errors of a share of 60 000 draws.
        assert!(abs_diff_eq!(share, joint.p, epsilon = 4.0 * spread + joint.p_error), "{share} {joint:?}");
        // Hayter 1984: the studentised range is conservative for unequal variances.
        assert!(range.p >= joint.p - joint.p_error);
        // Between one test alone and the sum over all.
        let alone = student_t::two_sided(joint.statistic, dof);
        assert!(joint.p >= alone * 0.999 && joint.p <= 6.0 * alone * 1.001);
    }
}

#[test]
fn comparisons_with_a_control_use_two_integrals_in_both_routes() {
    let control = 0.005;
    let variances = [0.002, 0.006, 0.004];
    let covariance: Vec<Vec<f64>> =
        (0..3).map(|i| (0..3).map(|j| control + if i == j { variances[i] } else { 0.0 }).collect()).collect();
    for direction in [Direction::Either, Direction::Greater, Direction::Less] {
        let family = Family { estimates: &[0.21, 0.05, -0.1], covariance: &covariance, df: 11.0, direction };
        let dunnett = run(&family, SingleStep::Dunnett);
        assert_eq!(dunnett, run(&family, SingleStep::Joint));
        let row = dunnett.rows[0];
        match direction {
            Direction::Either => assert!(row.low.is_finite() && row.high.is_finite()),
            Direction::Greater => assert!(row.high == f64::INFINITY && row.p < 0.5),
            Direction::Less => assert!(row.low == f64::NEG_INFINITY && row.p > 0.5),
        }
    }
}

#[test]
fn scheffe_is_the_f_distribution_of_the_rank() {
    let (estimates, covariance) = pairwise(&MEANS, &[0.002, 0.012, 0.004, 0.006]);
    let family = Family { estimates: &estimates, covariance: &covariance, df: 9.0, direction: Direction::Either };
    let found = run(&family, SingleStep::Scheffe);
    // Scheffe 1953: t^2 / 3 against F with 3 (the rank of six differences of four means) and 9.
    crate::assert_rel!(found.critical, (3.0 * fisher_f::quantile(0.95, 3.0, 9.0)).sqrt(), 1e-12);
    crate::assert_rel!(found.rows[1].p, fisher_f::sf(found.rows[1].statistic.powi(2) / 3.0, 3.0, 9.0), 1e-12);
    let joint = run(&family, SingleStep::Joint);
    assert!(found.critical > joint.critical);
}

#[test]
fn families_are_checked() {
    let (estimates, covariance) = pairwise(&MEANS, &[0.004; 4]);
    let good = Family { estimates: &estimates, covariance: &covariance, df: 9.0, direction: Direction::Either };
    let fails = |family: &Family<'_>, method, level| match single_step(
        family,
        method,
        level,
        &Precision::default(),
        &Control::new(),
    ) {
        Err(Error::Numeric(error)) => error,
        other => panic!("{other:?}"),
    };
    let short = Family { estimates: &estimates[1..], ..good };
    assert!(matches!(fails(&short, SingleStep::Joint, 0.95), NumericError::Lengths { .. }));
    let level = single_step(&good, SingleStep::Joint, 95.0, &Precision::default(), &Control::new());
    assert_eq!(level.err(), Some(Error::Count(CountError::Level { value: 95.0 })));
    assert!(matches!(
        fails(&Family { df: 0.0, ..good }, SingleStep::Joint, 0.95),
        NumericError::DegreesOfFreedom { .. }
    ));
    assert!(matches!(fails(&good, SingleStep::Dunnett, 0.95), NumericError::NotManyToOne));
    assert!(matches!(fails(&good, SingleStep::TukeyKramer { groups: 1 }, 0.95), NumericError::TooFewGroups { .. }));
    let upward = Family { direction: Direction::Greater, ..good };
    assert!(matches!(fails(&upward, SingleStep::Scheffe, 0.95), NumericError::TwoSidedOnly { .. }));
    let flat = [vec![0.0]];
    let no_variance = Family { estimates: &[0.1], covariance: &flat, ..good };
    assert!(matches!(fails(&no_variance, SingleStep::Joint, 0.95), NumericError::NoVariance { row: 0 }));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn limits_exclude_zero_exactly_when_p_is_small(
        means in prop::collection::vec(0.0_f64..1.0, 3..5), seed in 0_u64..1000, dof in 2.0_f64..40.0, level in 0.8_f64..0.99
    ) {
        let variances: Vec<f64> = (0..means.len()).map(|i| 0.002 + 0.01 * ((seed as f64 + 1.7) * (i as f64 + 1.0)).sin().powi(2)).collect();
        let (estimates, covariance) = pairwise(&means, &variances);
        let family = Family { estimates: &estimates, covariance: &covariance, df: dof, direction: Direction::Either };
        for method in [SingleStep::Joint, SingleStep::TukeyKramer { groups: means.len() }, SingleStep::Scheffe] {
            let found = single_step(&family, method, level, &Precision { seed, ..Precision::default() }, &Control::new()).unwrap();
            for row in &found.rows {
                let excludes = row.low > 0.0 || row.high < 0.0;
                prop_assert_eq!(excludes, row.p < 1.0 - level, "{:?}", row);
                prop_assert!(row.low < row.value && row.value < row.high);
            }
        }
    }
}

/// Slices of all pairs of so many equal means, without correlation between slices.
fn slices(count: usize, groups: usize) -> Vec<Vec<f64>> {
    let one = pairwise(&vec![0.0; groups], &vec![0.5; groups]).1;
    let size = one.len();
    let entry = |i: usize, j: usize| if i / size == j / size { one[i % size][j % size] } else { 0.0 };
    (0..count * size).map(|i| (0..count * size).map(|j| entry(i, j)).collect()).collect()
}

#[test]
fn slices_without_a_common_error_are_products() {
    for (count, groups) in [(2, 3), (3, 5), (4, 4)] {
        let r = slices(count, groups);
        let estimates: Vec<f64> = (0..r.len()).map(|i| 1.5 + 0.2 * i as f64).collect();
        let family = Family { estimates: &estimates, covariance: &r, df: f64::INFINITY, direction: Direction::Either };
        for row in &run(&family, SingleStep::Joint).rows {
            // Known variance makes slices independent: 1 - (1 - p)^slices of the range's p.
            let range = studentized_range::sf(row.statistic * SQRT_2, groups, f64::INFINITY);
            crate::assert_rel!(row.p, -(count as f64 * (-range).ln_1p()).exp_m1(), 1e-10);
            assert_eq!(row.p_error, 0.0);
        }
    }
}

#[test]
fn slices_with_a_common_error_agree_with_points() {
    use rootling::math::distributions::{dunnett::Sides, multivariate::Largest};
    let mut r = slices(2, 3);
    // A third slice of two comparisons with one level.
    r.iter_mut().for_each(|row| row.extend([0.0, 0.0]));
    r.push(vec![0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.5]);
    r.push(vec![0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5, 1.0]);
    for dof in [3.0, 12.0, 60.0] {
        let estimates = [1.2, 1.9, 2.3, 2.8, 3.3, 4.0, 5.0, 7.0];
        let family = Family { estimates: &estimates, covariance: &r, df: dof, direction: Direction::Either };
        let exact = run(&family, SingleStep::Joint);
        let points = Largest::new(&r, dof, Sides::Two, &Precision::default(), &Control::new()).unwrap();
        for row in &exact.rows {
            let other = points.sf(row.statistic);
            assert!(abs_diff_eq!(row.p, other.value, epsilon = 1.5 * other.error + 1e-4 * row.p), "{row:?} {other:?}");
            let excludes = row.low > 0.0 || row.high < 0.0;
            assert_eq!(excludes, row.p < 0.05, "{row:?}");
        }
    }
}

#[test]
fn directions_agree_with_rectangles() {
    use rootling::math::distributions::{dunnett::Sides, multivariate::Largest};
    // Two routes to one law: directions on a sphere, and rectangles given which statistic is the largest.
    for (size, dof) in [(4, 5.0), (5, 20.0), (8, f64::INFINITY)] {
        let variances: Vec<f64> = (0..size).map(|i| 1.0 + 0.7 * ((i * i % 5) as f64)).collect();
        let (_, covariance) = pairwise(&vec![0.0; size], &variances);
        let statistics = [0.4, 1.0, 1.8, 2.5, 3.0, 3.4, 4.0, 5.0, 6.5, 9.0];
        let estimates: Vec<f64> = (0..covariance.len())
            .map(|i| covariance[i][i].sqrt() * statistics[i % statistics.len()] * if i % 3 == 0 { -1.0 } else { 1.0 })
            .collect();
        let family = Family { estimates: &estimates, covariance: &covariance, df: dof, direction: Direction::Either };
        // What contrasts ask for.
        let precision = Precision { absolute: 5e-5, relative: 4e-3, ..Precision::default() };
        let ours = single_step(&family, SingleStep::Joint, 0.95, &precision, &Control::new()).unwrap();
        let other = Largest::new(&covariance, dof, Sides::Two, &Precision::default(), &Control::new()).unwrap();
        for row in &ours.rows {
            let want = other.sf(row.statistic.abs());
            assert!(row.p_error <= 8e-3 * row.p, "{row:?}");
            // Beyond a score of 8 the rectangles take the share of the largest as constant: 0.2 % are missed at P = 6e-18.
            let reach = 1.5 * (row.p_error + want.error) + 2.5e-3 * row.p;
            assert!(abs_diff_eq!(row.p, want.value, epsilon = reach), "{row:?} {want:?}");
            if dof.is_infinite() && row.statistic.abs() > 8.5 {
                // Bonferroni's bounds, sums over single statistics and over pairs by scipy 1.17.1 (stats.norm, integrate.quad)
                assert!(row.p > 6.316_788e-18 && row.p < 6.320_096e-18, "{row:?}");
            }
        }
        assert_rel!(other.sf(ours.critical).value, 0.05, 0.006);
        assert!(ours.reached);
        // The same again, on one thread.
        let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        let again =
            alone.install(|| single_step(&family, SingleStep::Joint, 0.95, &precision, &Control::new()).unwrap());
        assert_eq!(ours, again);
    }
}

#[test]
fn a_large_family_is_judged_quickly_and_can_be_stopped() {
    // All 435 pairs of 30 means with unequal variances: 29 dimensions.
    let variances: Vec<f64> = (0..30).map(|i| 1.0 + 0.1 * f64::from(i % 7)).collect();
    let (_, covariance) = pairwise(&[0.0; 30], &variances);
    let estimates: Vec<f64> = (0..covariance.len()).map(|i| covariance[i][i].sqrt() * (i as f64 / 80.0)).collect();
    let family = Family { estimates: &estimates, covariance: &covariance, df: 60.0, direction: Direction::Either };
    let precision = Precision { absolute: 5e-5, relative: 4e-3, ..Precision::default() };
    let found = single_step(&family, SingleStep::Joint, 0.95, &precision, &Control::new()).unwrap();
    // Between one test and Bonferroni's bound, near the range of equal means (Hayter 1984: not above it).
    let range = studentized_range::isf(0.05, 30, 60.0) / SQRT_2;
    assert!(found.critical <= range * 1.002 && found.critical > 0.97 * range, "{} {range}", found.critical);
    let stopped = Control::new();
    stopped.stop();
    assert_eq!(single_step(&family, SingleStep::Joint, 0.95, &precision, &stopped), Err(Error::Interrupted));
}

/// Fewest groups that join all pairs not shown to differ, by trying all families of 1, 2, ... cliques.
fn fewest_by_force(size: usize, differs: &[Vec<bool>]) -> usize {
    let joined = |i: usize, j: usize| !(differs[i][j] || differs[j][i]);
    let cliques: Vec<u32> = (1_u32..1 << size)
        .filter(|set| (0..size).all(|i| (0..i).all(|j| set >> i & set >> j & 1 == 0 || joined(i, j))))
        .collect();
    let pairs: Vec<u32> = (0..size)
        .flat_map(|i| (0..=i).map(move |j| (i, j)))
        .filter(|(i, j)| i == j || joined(*i, *j))
        .map(|(i, j)| 1 << i | 1 << j)
        .collect();
    fn possible(cliques: &[u32], pairs: &[u32], left: usize) -> bool {
        let Some(first) = pairs.first() else { return true };
        left > 0
            && cliques.iter().filter(|set| *set & first == *first).any(|set| {
                let rest: Vec<u32> = pairs.iter().copied().filter(|pair| set & pair != *pair).collect();
                possible(cliques, &rest, left - 1)
            })
    }
    (1..).find(|count| possible(&cliques, &pairs, *count)).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn letters_say_what_was_shown_with_the_fewest_groups(
        means in prop::collection::vec(0.0_f64..1.0, 1..7), shown in prop::collection::vec(any::<bool>(), 36), descending in any::<bool>()
    ) {
        let size = means.len();
        let differs: Vec<Vec<bool>> = (0..size).map(|i| (0..size).map(|j| i < j && shown[6 * i + j]).collect()).collect();
        let order = if descending { LetterOrder::Descending } else { LetterOrder::Ascending };
        let found = letter_groups(&means, &differs, order).unwrap();
        for (j, i) in pairs(size) {
            let share = found.letters[i].chars().any(|letter| found.letters[j].contains(letter));
            prop_assert_eq!(share, !differs[j][i], "{:?}", found);
        }
        prop_assert!(found.letters.iter().all(|letters| !letters.is_empty()));
        prop_assert!(found.fewest);
        prop_assert_eq!(found.groups.len(), fewest_by_force(size, &differs));
        // The best-ranked level holds the first letter.
        let better = |i: usize, j: usize| if descending { means[i] > means[j] } else { means[i] < means[j] };
        let first = (0..size).find(|i| (0..size).all(|j| !better(j, *i))).unwrap();
        prop_assert!(found.letters[first].starts_with('a'));
    }
}

#[test]
fn letters_of_known_patterns() {
    let none = vec![vec![false; 4]; 4];
    assert_eq!(letter_groups(&MEANS, &none, LetterOrder::Descending).unwrap().letters, ["a"; 4]);
    let all = vec![vec![true; 4]; 4];
    assert_eq!(letter_groups(&MEANS, &all, LetterOrder::Descending).unwrap().letters, ["a", "b", "c", "d"]);
    assert_eq!(letter_groups(&MEANS, &all, LetterOrder::Ascending).unwrap().letters, ["d", "c", "b", "a"]);
    // Piepho 2004, from memory, the usual overlapping chain: only neighbours are not shown to differ.
    let chain: Vec<Vec<bool>> = (0..4_usize).map(|i| (0..4).map(|j| i.abs_diff(j) > 1).collect()).collect();
    assert_eq!(letter_groups(&MEANS, &chain, LetterOrder::Descending).unwrap().letters, ["a", "ab", "bc", "c"]);
    // Six pairs out of twelve levels, all else differing: 64 largest groups would arise from the opposite pattern, found at once too.
    let means: Vec<f64> = (0..12).map(f64::from).collect();
    let opposite: Vec<Vec<bool>> =
        (0..12_usize).map(|i| (0..12_usize).map(|j| i != j && i / 2 == j / 2).collect()).collect();
    let found = letter_groups(&means, &opposite, LetterOrder::Ascending).unwrap();
    for (j, i) in pairs(12) {
        let share = found.letters[i].chars().any(|letter| found.letters[j].contains(letter));
        assert_eq!(share, !opposite[i][j]);
    }
    assert!(letter_groups(&MEANS, &all[..3], LetterOrder::Descending).is_err());
    assert!(letter_groups(&[], &[], LetterOrder::Descending).unwrap().letters.is_empty());
}

#[test]
fn thirty_ordered_levels_are_quick() {
    let means: Vec<f64> = (0..30).map(|i| 1.0 - f64::from(i) / 40.0).collect();
    let differs: Vec<Vec<bool>> = (0..30_usize).map(|i| (0..30).map(|j| i.abs_diff(j) > 6).collect()).collect();
    let found = letter_groups(&means, &differs, LetterOrder::Descending).unwrap();
    // Windows of seven neighbours: 24 of them, each needed for its own two ends.
    assert_eq!((found.groups.len(), found.fewest), (24, true));
    assert_eq!(found.letters[0], "a");
}
