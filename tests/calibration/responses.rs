//! Roots per cutting and roots per rooted cutting: false alarms and coverage of differences, coverage of means.
//!
//! `responses.md` beside this file is the output of
//! `ROOTLING_CALIBRATION=2000 cargo test --release --test calibration responses -- --nocapture --test-threads=1` with its reading.
//! Trays differ by laws that nothing fits: takes by a normal law on the log odds or a beta law, roots by gamma or log-normal factors,
//! which may go with the take of their tray.

use rayon::prelude::*;
use rootling::math::distributions::normal;
use rootling::math::regression::{UnitMeans, UnitValues, mean_limits};
use rootling::math::{distributions::student_t, rng, special};

use crate::{full, percent};

/// How trays differ, and cuttings within them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Trays {
    /// Standard deviation of takes on the log odds.
    pub(crate) take_sd: f64,
    /// Standard deviation of the logarithm of roots.
    pub(crate) roots_sd: f64,
    /// Correlation of both.
    pub(crate) together: f64,
    /// Shape of a gamma law of cuttings beside the Poisson law; none where it is 0.
    pub(crate) shape: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    pub(crate) take: f64,
    pub(crate) roots: f64,
}

/// Cuttings of each tray, lost trays left out.
const SIZES: [(&str, &[usize], &[usize]); 4] = [
    ("3 and 3 trays of 10", &[10; 3], &[10; 3]),
    ("4 and 6 trays of 5 to 40", &[5, 10, 20, 40], &[20, 20, 10, 30, 5, 12]),
    ("6 and 6 trays of 20", &[20; 6], &[20; 6]),
    ("12 and 10 trays of 10 to 30", &[10, 20, 30, 10, 20, 30, 10, 20, 30, 10, 20, 30], &[20; 10]),
];

pub(crate) const LAWS: [Trays; 3] = [
    Trays { take_sd: 0.0, roots_sd: 0.0, together: 0.0, shape: 0.0 },
    Trays { take_sd: 0.45, roots_sd: 0.25, together: 0.0, shape: 3.0 },
    Trays { take_sd: 0.6, roots_sd: 0.4, together: 0.5, shape: 2.0 },
];

fn gamma(random: &mut rng::ChaCha8Rng, shape: f64) -> f64 {
    // Sums of squares of normal draws: shapes are halves of whole numbers here.
    let sum: f64 = (0..(2.0 * shape) as usize).map(|_| normal::quantile(rng::uniform(random)).powi(2)).sum();
    0.5 * sum
}

fn poisson(random: &mut rng::ChaCha8Rng, mean: f64) -> f64 {
    let (mut product, mut count) = (rng::uniform(random), 0.0);
    while product > (-mean).exp() {
        product *= rng::uniform(random);
        count += 1.0;
    }
    count
}

/// Roots of every cutting of one tray, 0 where it did not root.
pub(crate) fn cuttings_of(level: Level, law: Trays, cuttings: usize, random: &mut rng::ChaCha8Rng) -> Vec<f64> {
    let (a, b) = (normal::quantile(rng::uniform(random)), normal::quantile(rng::uniform(random)));
    let take = special::expit(special::logit(level.take) + law.take_sd * a);
    let own = law.together * a + (1.0 - law.together * law.together).sqrt() * b;
    let factor = (law.roots_sd * own - 0.5 * law.roots_sd * law.roots_sd).exp();
    let mut one = || {
        if rng::uniform(random) >= take {
            return 0.0;
        }
        let mean = (level.roots * factor - 1.0).max(0.05);
        let mean = if law.shape > 0.0 { mean * gamma(random, law.shape) / law.shape } else { mean };
        1.0 + poisson(random, mean)
    };
    (0..cuttings).map(|_| one()).collect()
}

/// Size, total and squares of one tray, of all cuttings and of those that rooted.
fn tray(level: Level, law: Trays, cuttings: usize, random: &mut rng::ChaCha8Rng) -> [[f64; 3]; 2] {
    let roots = cuttings_of(level, law, cuttings, random);
    let rooted = roots.iter().filter(|roots| **roots > 0.0).count() as f64;
    let (total, squares) = roots.iter().fold((0.0, 0.0), |(sum, squares), x| (sum + x, squares + x * x));
    [[cuttings as f64, total, squares], [rooted, total, squares]]
}

/// Mean of either kind over many trays.
fn truth(level: Level, law: Trays, kind: usize) -> f64 {
    let mut random = rng::stream(20_261_130, 7);
    let (mut total, mut size) = (0.0, 0.0);
    for _ in 0..20_000 {
        let one = tray(level, law, 20, &mut random)[kind];
        (size, total) = (size + one[0], total + one[1]);
    }
    total / size
}

/// Whether no difference and the true one lie within the limits, and whether the true mean of either level does.
fn one(levels: [Level; 2], law: Trays, at: usize, kind: usize, truths: [f64; 2], seed: u64) -> Option<[f64; 4]> {
    let mut random = rng::stream(20_261_130, 1_000 + seed);
    let mut values = UnitValues { least: 1.0, ..UnitValues::default() };
    for (side, sizes) in [SIZES[at].1, SIZES[at].2].into_iter().enumerate() {
        for cuttings in sizes {
            let [size, total, squares] = tray(levels[side], law, *cuttings, &mut random)[kind];
            if size > 0.0 {
                values.sizes.push(size);
                values.totals.push(total);
                values.squares.push(squares);
                values.levels.push(side);
            }
        }
    }
    let units = |side: usize| values.levels.iter().filter(|own| **own == side).count();
    if units(0) < 2 || units(1) < 2 || values.totals.iter().sum::<f64>() == 0.0 {
        return None;
    }
    let fit = UnitMeans::fit(&values)?;
    let found = fit.contrast(&[-1.0, 1.0])?;
    let half = student_t::quantile(0.975, found.df) * found.variance.sqrt();
    let yes = |what: bool| f64::from(u8::from(what));
    let holds = |true_one: f64| (found.value - true_one).abs() <= half;
    let mean = |side: usize| {
        let own = fit.contrast(&[yes(side == 0), yes(side == 1)]).unwrap();
        let size: f64 = values.sizes.iter().zip(&values.levels).filter(|(_, at)| **at == side).map(|(n, _)| n).sum();
        let (low, high) = mean_limits(own, student_t::quantile(0.975, own.df), 1.0 / size);
        yes(low <= truths[side] && truths[side] <= high)
    };
    Some([yes(!holds(0.0)), yes(holds(truths[1] - truths[0])), mean(0), mean(1)])
}

#[test]
fn responses_hold_their_false_alarms_and_coverage() {
    let (runs, most, least) = full().map_or((400, 0.085, 0.89), |runs| (runs, 0.065, 0.92));
    let fast = full().is_none();
    let pairs = [
        ((0.05, 4.0), (0.05, 4.0)),
        ((0.2, 4.0), (0.2, 4.0)),
        ((0.5, 4.0), (0.5, 4.0)),
        ((0.95, 8.0), (0.95, 8.0)),
        ((0.05, 4.0), (0.3, 4.0)),
        ((0.2, 3.0), (0.6, 6.0)),
        ((0.6, 5.0), (0.95, 5.0)),
        ((0.5, 2.0), (0.5, 6.0)),
        ((0.9, 6.0), (0.3, 6.0)),
    ];
    println!(
        "\n| means over | trays | law | takes | roots | trials | differences found | coverage of the difference | of the first mean | of the second |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    for kind in 0..2 {
        for (law, trays) in LAWS.into_iter().enumerate() {
            for ((take, roots), (other, others)) in pairs {
                for (at, (name, ..)) in SIZES.into_iter().enumerate() {
                    if fast && (at == 3 || law == 0 || take == 0.2) {
                        continue;
                    }
                    let levels = [Level { take, roots }, Level { take: other, roots: others }];
                    let alike = take == other && roots == others;
                    let first = truth(levels[0], trays, kind);
                    let truths = [first, if alike { first } else { truth(levels[1], trays, kind) }];
                    let found = |runs: u64, first: u64| -> ([f64; 4], u64) {
                        let all: Vec<[f64; 4]> = (0..runs)
                            .into_par_iter()
                            .filter_map(|seed| one(levels, trays, at, kind, truths, first + seed))
                            .collect();
                        let share = |which: usize| all.iter().map(|one| one[which]).sum::<f64>() / all.len() as f64;
                        ([0, 1, 2, 3].map(share), all.len() as u64)
                    };
                    let bad =
                        |shares: [f64; 4]| alike && shares[0] > most || shares[1..].iter().any(|share| *share < least);
                    let (mut shares, mut trials) = found(runs, 0);
                    // Means of trays in which hardly any cutting rooted say little of a trial that could be asked at all.
                    let told = trials * 5 > runs;
                    if told && bad(shares) {
                        // The farthest of many is partly chance: it is run again with ten times the trials.
                        (shares, trials) = found(10 * runs, 1 << 20);
                    }
                    println!(
                        "| {} | {name} | {law} | {take} and {other} | {roots} and {others} | {trials} | {} |",
                        ["stuck", "rooted"][kind],
                        shares.map(|share| percent(Some(share))).join(" | ")
                    );
                    assert!(!told || !bad(shares), "{name} {law} {levels:?} {shares:?}");
                }
            }
        }
    }
}
