//! Simulated trials with a known answer: how often do intervals hold it, how often do tests raise a false alarm?

use rayon::prelude::*;
use rootling::compare::{DifferenceMethod, Stratum, difference, pooled_t, randomisation_test, score_effective, tray_difference, welch_t};
use rootling::control::Control;
use rootling::math::distributions::fisher_f;
use rootling::math::rng;
use rootling::rates::{Arm, IntervalMethod, TraySpread, interval, interval_effective, tray_interval, tray_spread};
use rootling::tables::{ContingencyTable, chi_square, donner_chi_square, fisher};
use rootling::Count;

/// Confidence level of every interval; a test raises an alarm at P <= 1 - LEVEL.
pub const LEVEL: f64 = 0.95;
/// Assignments drawn where there are too many to enumerate.
const DRAWS: u64 = 999;

/// Intervals for one take rate. The first is the default.
pub const RATES: [&str; 5] = ["Wilson, effective cuttings, t", "Clopper-Pearson, effective cuttings, t", "Jeffreys, effective cuttings, t", "t on tray rates", "Wilson, trays ignored"];
/// Intervals for a difference. The first is the default.
pub const DIFFERENCES: [&str; 5] = ["Newcombe, effective cuttings, t", "Score, effective cuttings, t", "pooled t on tray rates", "Welch t on tray rates", "Miettinen-Nurminen, trays ignored"];
/// Tests of two treatments, then of all treatments.
pub const TESTS: [&str; 7] = ["randomisation of trays", "pooled t on tray rates", "Welch t on tray rates", "Fisher, trays ignored", "tray-adjusted, chi-square tail (all treatments)", "tray-adjusted, F tail (all treatments)", "Pearson, trays ignored (all treatments)"];

/// One design: every treatment has `trays` trays of about `cuttings` cuttings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    pub treatments: usize,
    pub trays: usize,
    pub cuttings: u64,
    pub icc: f64,
    pub take: f64,
    /// Tray sizes half, one and one and a half times `cuttings` in turn.
    pub uneven: bool,
}

/// Shares of replicates and mean widths, in the order of the candidates' names.
#[derive(Debug, Clone, Copy, Default)]
pub struct Tally {
    /// Rate intervals that hold the take.
    pub rate_held: [f64; 5],
    pub rate_width: [f64; 5],
    /// Difference intervals that hold the difference, with equal takes and with unequal takes.
    pub equal_held: [f64; 5],
    pub unequal_held: [f64; 5],
    pub difference_width: [f64; 5],
    /// Tests at P <= 0.05 with equal takes: false alarms.
    pub alarms: [f64; 7],
    /// Tests at P <= 0.05 with unequal takes: power.
    pub power: [f64; 7],
}

/// The designs of the full table.
pub fn grid(uneven: bool) -> Vec<Design> {
    let mut found = Vec::new();
    for treatments in [2, 5] {
        for trays in [3, 4, 6, 8, 12] {
            for cuttings in [5, 10, 20, 40] {
                for icc in [0.0, 0.01, 0.05, 0.1, 0.15] {
                    for take in [0.02, 0.1, 0.5, 0.8, 0.98] {
                        found.push(Design { treatments, trays, cuttings, icc, take, uneven });
                    }
                }
            }
        }
    }
    found
}

/// The take of the second treatment where takes differ.
fn other_take(take: f64) -> f64 {
    if take > 0.9 { 0.85 } else if take > 0.7 { 0.95 } else { take + 0.2 }
}

/// Runs `replicates` seeded trials of each design, in parallel; the outcome does not depend on the number of threads.
pub fn run(designs: &[Design], replicates: u64, seed: u64) -> Vec<Tally> {
    let one = |(at, design): (usize, &Design)| {
        let mut tally = Tally::default();
        for replicate in 0..replicates {
            let mut random = rng::stream(seed, at as u64 * replicates + replicate);
            trial(design, &mut random, &mut tally, 1.0 / replicates as f64);
        }
        tally
    };
    designs.par_iter().enumerate().map(one).collect()
}

fn grow(design: &Design, take: f64, random: &mut rng::ChaCha8Rng) -> Arm {
    let mut arm = Arm::default();
    for tray in 0..design.trays {
        let share = if design.uneven { [0.5, 1.0, 1.5][tray % 3] } else { 1.0 };
        let stuck = (design.cuttings as f64 * share).round() as u64;
        arm.stuck.push(stuck);
        arm.rooted.push(rng::beta_binomial(random, stuck, take, design.icc));
    }
    arm
}

fn trial(design: &Design, random: &mut rng::ChaCha8Rng, tally: &mut Tally, weight: f64) {
    let equal: Vec<Arm> = (0..design.treatments).map(|_| grow(design, design.take, random)).collect();
    let other = other_take(design.take);
    let takes = [design.take, other, 0.3, 0.5, 0.7];
    let unequal: Vec<Arm> = takes[..design.treatments].iter().map(|take| grow(design, *take, random)).collect();
    let spread = tray_spread(&unequal).unwrap();
    add_rates(&unequal[0], &spread, design.take, tally, weight);
    let limits = differences(&unequal, &spread);
    for (at, (low, high)) in limits.into_iter().enumerate() {
        tally.unequal_held[at] += weight * held(low, other - design.take, high);
        tally.difference_width[at] += weight * (high - low);
    }
    let null = tray_spread(&equal).unwrap();
    for (at, (low, high)) in differences(&equal, &null).into_iter().enumerate() {
        tally.equal_held[at] += weight * held(low, 0.0, high);
    }
    let seed = rng::uniform(random).to_bits();
    for (into, arms, spread) in [(&mut tally.alarms, &equal, &null), (&mut tally.power, &unequal, &spread)] {
        for (at, p_value) in tests(arms, spread, seed).into_iter().enumerate() {
            into[at] += weight * f64::from(u8::from(p_value <= 1.0 - LEVEL + 1e-12));
        }
    }
}

fn held(low: f64, truth: f64, high: f64) -> f64 {
    f64::from(u8::from(low <= truth && truth <= high))
}

fn count(arm: &Arm) -> Count {
    Count { rooted: arm.rooted.iter().sum(), stuck: arm.stuck.iter().sum() }
}

fn add_rates(arm: &Arm, spread: &TraySpread, take: f64, tally: &mut Tally, weight: f64) {
    let effective = spread.effective_cuttings(arm);
    let by = |method| interval_effective(arm.rate() * effective, effective, method, spread.critical(LEVEL)).unwrap();
    let pooled = interval(count(arm), IntervalMethod::Wilson, LEVEL).unwrap();
    let rates = arm.tray_rates();
    let found = [tray_interval(arm, spread, LEVEL).unwrap(), by(IntervalMethod::ClopperPearson), by(IntervalMethod::Jeffreys), t_interval(&rates), (pooled.conf_low, pooled.conf_high)];
    for (at, (low, high)) in found.into_iter().enumerate() {
        tally.rate_held[at] += weight * held(low, take, high);
        tally.rate_width[at] += weight * (high - low);
    }
}

fn t_interval(rates: &[f64]) -> (f64, f64) {
    let n = rates.len() as f64;
    let mean = rates.iter().sum::<f64>() / n;
    let squares: f64 = rates.iter().map(|rate| (rate - mean).powi(2)).sum();
    let half = rootling::math::distributions::student_t::quantile(f64::midpoint(1.0, LEVEL), n - 1.0) * (squares / (n - 1.0) / n).sqrt();
    (mean - half, mean + half)
}

fn differences(arms: &[Arm], spread: &TraySpread) -> [(f64, f64); 5] {
    let (first, second) = (&arms[0], &arms[1]);
    let side = |arm: &Arm| (arm.rate(), spread.effective_cuttings(arm));
    let (rates1, rates2) = (first.tray_rates(), second.tray_rates());
    // Without any spread a t interval is the bare difference.
    let gap = second.rate() - first.rate();
    let limits = |test: Option<rootling::compare::TrayTest>| test.map_or((gap, gap), |test| (test.conf_low, test.conf_high));
    let ignored = difference(count(second), count(first), DifferenceMethod::MiettinenNurminen, LEVEL).unwrap();
    [
        tray_difference(first, second, spread, LEVEL).unwrap(),
        score_effective(side(second), side(first), spread.critical(LEVEL)).unwrap(),
        limits(pooled_t(&rates1, &rates2, LEVEL)),
        limits(welch_t(&rates1, &rates2, LEVEL)),
        (ignored.conf_low, ignored.conf_high),
    ]
}

fn tests(arms: &[Arm], spread: &TraySpread, seed: u64) -> [f64; 7] {
    let (rates1, rates2) = (arms[0].tray_rates(), arms[1].tray_rates());
    let second = (0..rates1.len() + rates2.len()).map(|tray| tray >= rates1.len()).collect();
    let stratum = Stratum { rates: [rates1.clone(), rates2.clone()].concat(), second };
    let randomised = randomisation_test(&[stratum], seed, DRAWS, &Control::new()).unwrap().p_value;
    let rows = |arms: &[Arm]| arms.iter().map(count).map(|one| vec![one.rooted, one.not_rooted()]).collect::<Vec<_>>();
    let adjusted = donner_chi_square(arms, spread);
    // All rooted or none rooted: nothing to test, no alarm.
    let exact = ContingencyTable::new(rows(&arms[..2])).map_or(1.0, |table| fisher(&table).unwrap().p_value);
    let pearson = ContingencyTable::new(rows(arms)).map_or(1.0, |table| chi_square(&table).unwrap().pearson.p_value);
    let by_f = adjusted.as_ref().and_then(|test| Some(fisher_f::sf(test.statistic? / test.dof?, test.dof?, spread.dof)));
    [
        randomised,
        pooled_t(&rates1, &rates2, LEVEL).map_or(1.0, |test| test.p_value),
        welch_t(&rates1, &rates2, LEVEL).map_or(1.0, |test| test.p_value),
        exact,
        adjusted.map_or(1.0, |test| test.p_value),
        by_f.unwrap_or(1.0),
        pearson,
    ]
}
