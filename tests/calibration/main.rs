//! Do the default tray-aware intervals and tests hold what they promise? A seeded simulation over realistic trials.
//!
//! Trials of two treatments with the same true take rate; trays are beta-binomial. For each design the run counts how often
//! the interval of one treatment covers its rate, how often the interval of the difference misses 0 (a false alarm), how
//! often the randomisation test and the t test on tray rates fall at or below 0.05, and what pooled cuttings would have done.
//! `table.md` beside this file is the output of `ROOTLING_CALIBRATION=2000 cargo test --release --test calibration -- --nocapture`.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::print_stdout)]

mod association;

use rayon::prelude::*;
use rootling::Count;
use rootling::compare::{DifferenceMethod, Stratum, difference, pooled_t, randomisation_test, tray_difference};
use rootling::control::Control;
use rootling::math::rng;
use rootling::rates::{Arm, IntervalMethod, interval, interval_effective, tray_interval, tray_spread};

const TRAYS: [usize; 5] = [3, 4, 6, 8, 12];
const CUTTINGS: [u64; 4] = [5, 10, 20, 40];
const ICC: [f64; 5] = [0.0, 0.01, 0.05, 0.10, 0.15];
const TAKE: [f64; 5] = [0.02, 0.1, 0.5, 0.8, 0.98];

#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    runs: f64,
    covered: f64,
    covered_beta: f64,
    width: f64,
    pooled_covered: f64,
    false_alarm: f64,
    randomisation: f64,
    t_test: f64,
    pooled_alarm: f64,
}

impl Tally {
    fn plus(self, other: Self) -> Self {
        Self {
            runs: self.runs + other.runs,
            covered: self.covered + other.covered,
            covered_beta: self.covered_beta + other.covered_beta,
            width: self.width + other.width,
            pooled_covered: self.pooled_covered + other.pooled_covered,
            false_alarm: self.false_alarm + other.false_alarm,
            randomisation: self.randomisation + other.randomisation,
            t_test: self.t_test + other.t_test,
            pooled_alarm: self.pooled_alarm + other.pooled_alarm,
        }
    }
}

#[derive(Debug, Clone, Copy)]
struct Design {
    trays: usize,
    cuttings: u64,
    icc: f64,
    take: f64,
}

fn designs() -> Vec<Design> {
    let mut all = Vec::new();
    for trays in TRAYS {
        for cuttings in CUTTINGS {
            for icc in ICC {
                all.extend(TAKE.map(|take| Design { trays, cuttings, icc, take }));
            }
        }
    }
    all
}

fn yes(happened: bool) -> f64 {
    f64::from(u8::from(happened))
}

fn one_trial(design: Design, random: &mut rng::ChaCha8Rng) -> Tally {
    let mut arm = || -> Arm {
        let rooted =
            (0..design.trays).map(|_| rng::beta_binomial(random, design.cuttings, design.take, design.icc)).collect();
        Arm { rooted, stuck: vec![design.cuttings; design.trays] }
    };
    let (first, second) = (arm(), arm());
    let spread = tray_spread(&[first.clone(), second.clone()]).unwrap();
    let (low, high) = tray_interval(&first, &spread, 0.95).unwrap();
    let effective = spread.effective_cuttings(&first);
    let beta =
        interval_effective(first.rate() * effective, effective, IntervalMethod::ClopperPearson, spread.critical(0.95))
            .unwrap();
    let gap = tray_difference(&first, &second, &spread, 0.95).unwrap();
    let (rates, others) = (first.tray_rates(), second.tray_rates());
    // Above 6 v 6 trays the enumeration (12,870 and more) costs too much here and discreteness no longer matters.
    let randomisation = if design.trays <= 6 {
        let second = (0..2 * design.trays).map(|at| at >= design.trays).collect();
        let stratum = Stratum { rates: rates.iter().chain(&others).copied().collect(), second };
        randomisation_test(&[stratum], 1, 999, &Control::new()).unwrap().p_value
    } else {
        1.0
    };
    let count = |arm: &Arm| Count { rooted: arm.rooted.iter().sum(), stuck: arm.stuck.iter().sum() };
    let pooled = interval(count(&first), IntervalMethod::Wilson, 0.95).unwrap();
    let pooled_gap = difference(count(&first), count(&second), DifferenceMethod::Newcombe, 0.95).unwrap();
    let inside = |limits: (f64, f64), value: f64| yes(limits.0 <= value && value <= limits.1);
    Tally {
        runs: 1.0,
        covered: inside((low, high), design.take),
        covered_beta: inside(beta, design.take),
        width: high - low,
        pooled_covered: inside((pooled.conf_low, pooled.conf_high), design.take),
        false_alarm: 1.0 - inside(gap, 0.0),
        randomisation: yes(randomisation <= 0.05),
        t_test: yes(pooled_t(&rates, &others, 0.95).is_some_and(|test| test.p_value <= 0.05)),
        pooled_alarm: 1.0 - inside((pooled_gap.conf_low, pooled_gap.conf_high), 0.0),
    }
}

fn run(runs: u64) -> Vec<(Design, Tally)> {
    let designs = designs();
    designs
        .par_iter()
        .enumerate()
        .map(|(at, design)| {
            let mut random = rng::stream(20_261_125, at as u64);
            let tally = (0..runs).map(|_| one_trial(*design, &mut random)).fold(Tally::default(), Tally::plus);
            (*design, tally)
        })
        .collect()
}

/// Average and worst over the designs that `keep` picks: value per design is `figure / runs`.
fn summary(
    results: &[(Design, Tally)],
    keep: impl Fn(&Design) -> bool,
    figure: impl Fn(&Tally) -> f64,
) -> (f64, f64, f64) {
    let values: Vec<f64> =
        results.iter().filter(|(design, _)| keep(design)).map(|(_, tally)| figure(tally) / tally.runs).collect();
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean, values.iter().copied().fold(f64::INFINITY, f64::min), values.iter().copied().fold(0.0, f64::max))
}

fn print_table(results: &[(Design, Tally)]) {
    println!(
        "| trays | icc | coverage mean (worst) | beta form | width | pooled coverage | false alarm mean (worst) | randomisation | t test | pooled alarm |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for trays in TRAYS {
        for icc in ICC {
            let keep = |design: &Design| design.trays == trays && design.icc == icc;
            let percent = |x: f64| format!("{:.1}", 100.0 * x);
            let cover = summary(results, keep, |t| t.covered);
            let beta = summary(results, keep, |t| t.covered_beta);
            let alarm = summary(results, keep, |t| t.false_alarm);
            let mean = |figure: fn(&Tally) -> f64| percent(summary(results, keep, figure).0);
            let randomisation = if trays <= 6 { mean(|t| t.randomisation) } else { "-".to_owned() };
            println!(
                "| {trays} | {icc} | {} ({}) | {} ({}) | {} | {} | {} ({}) | {randomisation} | {} | {} |",
                percent(cover.0),
                percent(cover.1),
                percent(beta.0),
                percent(beta.1),
                mean(|t| t.width),
                mean(|t| t.pooled_covered),
                percent(alarm.0),
                percent(alarm.2),
                mean(|t| t.t_test),
                mean(|t| t.pooled_alarm)
            );
        }
    }
}

/// The five designs whose default rate interval covers least.
fn print_worst(results: &[(Design, Tally)]) {
    let mut order: Vec<&(Design, Tally)> = results.iter().collect();
    order.sort_by(|a, b| (a.1.covered / a.1.runs).total_cmp(&(b.1.covered / b.1.runs)));
    for (design, tally) in order.into_iter().take(5) {
        println!("least coverage {:.3}: {design:?}", tally.covered / tally.runs);
    }
}

#[test]
fn defaults_hold() {
    let runs = std::env::var("ROOTLING_CALIBRATION").ok().and_then(|text| text.parse().ok()).unwrap_or(200);
    let results = run(runs);
    print_table(&results);
    print_worst(&results);
    let four = |design: &Design| design.trays >= 4;
    let coverage = summary(&results, four, |t| t.covered);
    let alarm = summary(&results, four, |t| t.false_alarm);
    let randomisation = summary(&results, |design| design.trays >= 4 && design.trays <= 6, |t| t.randomisation);
    println!("coverage {coverage:?}; false alarms {alarm:?}; randomisation {randomisation:?}");
    assert!(coverage.0 >= 0.935, "mean coverage {}", coverage.0);
    assert!(alarm.0 <= 0.06, "mean false alarms {}", alarm.0);
    assert!(randomisation.0 <= 0.055, "mean false alarms of the randomisation test {}", randomisation.0);
    // What pooled cuttings do to the same trials with a tray correlation of 0.10.
    let pooled = summary(&results, |design| design.icc == 0.10, |t| t.pooled_alarm);
    assert!(pooled.0 > 0.10, "pooled false alarms {}", pooled.0);
}
