//! False alarms of the tests that count trays in an association, and coverage of the tray correlation.
//!
//! `association.md` beside this file is the output of
//! `ROOTLING_CALIBRATION=400 cargo test --release --test calibration association -- --nocapture` with its reading.

use rayon::prelude::*;
use rootling::compare::{TreatmentStratum, tray_rate_test};
use rootling::control::Control;
use rootling::math::distributions::normal;
use rootling::math::{rng, special};
use rootling::rates::{Arm, anova_correlation, beta_binomial_correlation, tray_spread};
use rootling::tables::{donner_chi_square, judged_by_f, rao_scott, rao_scott_orders};

const TESTS: [&str; 6] =
    ["tray rates", "donner", "donner, chi-square tail", "rao-scott", "first order", "second order"];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Layout {
    Equal,
    /// Trays of half, the whole and one and a half of the size.
    Unequal,
    /// One tray of each treatment per block; blocks differ by a normal shift of the logit, standard deviation 0.5.
    Blocks,
}

#[derive(Clone, Copy)]
struct Design {
    treatments: usize,
    trays: usize,
    icc: f64,
    layout: Layout,
}

fn arms(design: Design, cuttings: u64, take: f64, random: &mut rng::ChaCha8Rng) -> Vec<Arm> {
    let shifts: Vec<f64> = (0..design.trays)
        .map(|_| if design.layout == Layout::Blocks { 0.5 * normal::quantile(rng::uniform(random)) } else { 0.0 })
        .collect();
    let size = |at: usize| match (design.layout, at % 3) {
        (Layout::Unequal, 0) => cuttings / 2,
        (Layout::Unequal, 2) => cuttings * 3 / 2,
        _ => cuttings,
    };
    (0..design.treatments)
        .map(|_| {
            let stuck: Vec<u64> = (0..design.trays).map(size).collect();
            let rooted = stuck.iter().zip(&shifts).map(|(m, shift)| {
                rng::beta_binomial(random, *m, special::expit(special::logit(take) + shift), design.icc)
            });
            Arm { rooted: rooted.collect(), stuck }
        })
        .collect()
}

/// One for each of `TESTS` that alarms.
fn alarms(design: Design, arms: &[Arm]) -> [f64; 6] {
    let mut strata = vec![TreatmentStratum::default(); if design.layout == Layout::Blocks { design.trays } else { 1 }];
    for (treatment, arm) in arms.iter().enumerate() {
        for (at, rate) in arm.tray_rates().into_iter().enumerate() {
            let place = at % strata.len();
            strata[place].rates.push(rate);
            strata[place].treatments.push(treatment);
        }
    }
    let Some(spread) = tray_spread(arms) else { return [0.0; 6] };
    let low = |p: Option<f64>| f64::from(u8::from(p.is_some_and(|p| p <= 0.05)));
    let donner = donner_chi_square(arms, &spread);
    let tail = |test| Some(judged_by_f(test, spread.df).p);
    let orders = rao_scott_orders(arms).map(|both| both.map(|test| judged_by_f(test, spread.df).p));
    [
        low(tray_rate_test(&strata).and_then(|test| test.p)),
        low(donner.clone().and_then(tail)),
        low(donner.map(|test| test.p)),
        low(rao_scott(arms).and_then(tail)),
        low(orders.map(|both| both[0])),
        low(orders.map(|both| both[1])),
    ]
}

/// Mean and worst share of alarms over tray sizes and takes.
fn rates(design: Design, runs: u64) -> [(f64, f64); 6] {
    let mut found = [(0.0, 0.0_f64); 6];
    let cases: Vec<(u64, f64)> =
        [10, 30].into_iter().flat_map(|m| [0.02, 0.1, 0.5, 0.8].map(|take| (m, take))).collect();
    for (at, (cuttings, take)) in cases.iter().enumerate() {
        let sums = (0..runs)
            .into_par_iter()
            .map(|replicate| {
                let mut random = rng::stream(2026 + at as u64, replicate);
                alarms(design, &arms(design, *cuttings, *take, &mut random))
            })
            .reduce(|| [0.0; 6], |a, b| std::array::from_fn(|i| a[i] + b[i]));
        for (place, sum) in found.iter_mut().zip(sums) {
            let share = sum / runs as f64;
            *place = (place.0 + share / cases.len() as f64, place.1.max(share));
        }
    }
    found
}

/// Coverage and mean of both estimates of the tray correlation: analysis of variance, then likelihood.
fn correlation(design: Design, runs: u64) -> [f64; 4] {
    let control = Control::new();
    let cases: Vec<(u64, f64)> = [10, 30].into_iter().flat_map(|m| [0.1, 0.5, 0.8].map(|take| (m, take))).collect();
    let total = cases.len() as f64 * runs as f64;
    let one = |at: usize, replicate: u64| -> [f64; 4] {
        let mut random = rng::stream(77 + at as u64, replicate);
        let arms = arms(design, cases[at].0, cases[at].1, &mut random);
        let inside = |low: f64, high: f64| f64::from(u8::from(low <= design.icc && design.icc <= high));
        let fit = beta_binomial_correlation(&arms, 0.95, &control).unwrap();
        let (Some(anova), Some(fit)) = (anova_correlation(&arms, 0.95), fit) else { return [1.0, 0.0, 1.0, 0.0] };
        let limits = (anova.low.unwrap_or(0.0), anova.high.unwrap_or(1.0));
        [inside(limits.0, limits.1), anova.value, inside(fit.low, fit.high), fit.value]
    };
    (0..cases.len())
        .flat_map(|at| (0..runs).map(move |replicate| (at, replicate)))
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(at, replicate)| one(at, replicate))
        .reduce(|| [0.0; 4], |a, b| std::array::from_fn(|i| a[i] + b[i]))
        .map(|sum| sum / total)
}

fn full() -> Option<u64> {
    std::env::var("ROOTLING_CALIBRATION").ok().and_then(|text| text.parse().ok())
}

#[test]
fn association_keeps_its_false_alarm_rate() {
    let (trays, layouts): (&[usize], &[Layout]) = if full().is_some() {
        (&[3, 4, 6, 12], &[Layout::Equal, Layout::Unequal, Layout::Blocks])
    } else {
        (&[3, 6], &[Layout::Equal, Layout::Blocks])
    };
    println!("| treatments | trays | icc | layout | {} |\n|{}", TESTS.join(" | "), "---|".repeat(10));
    let (mut sum, mut lines) = ([0.0; 6], 0.0);
    // Rao and Scott's, where trays differ most.
    let (mut apart, mut apart_lines) = (0.0, 0.0);
    for treatments in [2, 3, 5] {
        for trays in trays.iter().copied() {
            for icc in [0.0, 0.05, 0.15] {
                for layout in layouts.iter().copied() {
                    let found = rates(Design { treatments, trays, icc, layout }, full().unwrap_or(60));
                    let cells = found.map(|(mean, worst)| format!("{:.1} ({:.1})", 100.0 * mean, 100.0 * worst));
                    println!("| {treatments} | {trays} | {icc} | {layout:?} | {} |", cells.join(" | "));
                    sum = std::array::from_fn(|i| sum[i] + found[i].0);
                    lines += 1.0;
                    if icc == 0.15 {
                        (apart, apart_lines) = (apart + found[3].0, apart_lines + 1.0);
                    }
                }
            }
        }
    }
    let mean = sum.map(|one| one / lines);
    assert!((0.03..0.06).contains(&mean[0]), "tray rates: {mean:?}");
    // What is said of the others holds too: Donner's by F is cautious, Rao and Scott's own effects are not where trays differ.
    assert!(mean[1] < mean[0] && apart / apart_lines > 0.06, "{mean:?}, {}", apart / apart_lines);
}

#[test]
fn association_correlation_covers() {
    let trays: &[usize] = if full().is_some() { &[3, 4, 6, 12] } else { &[4] };
    println!("| treatments | trays | icc | anova covers | mean | likelihood covers | mean |\n|{}", "---|".repeat(7));
    for treatments in [2, 4] {
        for trays in trays.iter().copied() {
            for icc in [0.0, 0.05, 0.15] {
                let design = Design { treatments, trays, icc, layout: Layout::Equal };
                let [covered, mean, likelihood, fitted] = correlation(design, full().map_or(60, |runs| runs / 4));
                println!(
                    "| {treatments} | {trays} | {icc} | {:.1} | {mean:.3} | {:.1} | {fitted:.3} |",
                    100.0 * covered,
                    100.0 * likelihood
                );
                assert!(covered > 0.85, "{covered}");
            }
        }
    }
}
