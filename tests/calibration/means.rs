//! Models of means: false alarms of effects, coverage of differences and of means, in blocks and split plots.
//!
//! `means.md` beside this file is the output of
//! `ROOTLING_CALIBRATION=1500 cargo test --release --test calibration means -- --nocapture --test-threads=1` with its reading.
//! Trays, benches and bays differ by laws that nothing fits: see `responses.rs`; benches and bays shift the log odds of rooting and the
//! logarithm of roots. Every trial is read from a table of cuttings and asked as a user asks it.

use std::fmt::Write as _;

use rayon::prelude::*;
use rootling::control::Control;
use rootling::math::distributions::normal;
use rootling::math::{rng, special};
use rootling::responses::{MeanContrastOptions, MeanLevelOptions, MeanModelSpec, MeanOf};
use rootling::trial::{LoadOptions, Response, Trial, read_csv};

use crate::responses::{LAWS, Level, Trays, cuttings_of};
use crate::{full, percent};

/// How trays lie.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Lie {
    /// Anywhere: so many trays of each combination, some lost.
    Anywhere(usize),
    /// Each combination once on each of so many benches.
    Benches(usize),
    /// Darkness by bays, so many for each level; strengths in each bay.
    Bays(usize),
}

#[derive(Debug, Clone, Copy)]
struct Design {
    lie: Lie,
    cuttings: usize,
    law: Trays,
    /// Levels of the first treatment (dark); the second (strength) has three that are alike.
    dark: [Level; 2],
    of: MeanOf,
}

/// A place's own shift: of the log odds of rooting, of the logarithm of roots.
fn shifted(random: &mut rng::ChaCha8Rng, sizes: (f64, f64)) -> (f64, f64) {
    (sizes.0 * normal::quantile(rng::uniform(random)), sizes.1 * normal::quantile(rng::uniform(random)))
}

fn at(level: Level, shift: (f64, f64)) -> Level {
    Level { take: special::expit(special::logit(level.take) + shift.0), roots: level.roots * shift.1.exp() }
}

/// One trial as a table of cuttings.
fn table(design: &Design, seed: u64) -> String {
    let mut random = rng::stream(20_261_201, seed);
    let mut text = String::from("dark,strength,place,tray,rooted,roots\n");
    let (mut trays, sizes) = (0, (0.3, 0.2));
    let mut add = |dark: usize, strength: usize, place: usize, level: Level, random: &mut rng::ChaCha8Rng| {
        trays += 1;
        for roots in cuttings_of(level, design.law, design.cuttings, random) {
            let _ = writeln!(text, "{dark},{strength},p{place},t{trays},{},{roots}", u8::from(roots > 0.0));
        }
    };
    match design.lie {
        Lie::Anywhere(each) => {
            for cell in 0..6 {
                // The last combinations have lost a tray.
                for _ in 0..each - usize::from(cell > 3 && each > 3) {
                    add(cell % 2, cell / 2, 0, design.dark[cell % 2], &mut random);
                }
            }
        }
        Lie::Benches(benches) => {
            for bench in 0..benches {
                let shift = shifted(&mut random, sizes);
                for cell in 0..6 {
                    add(cell % 2, cell / 2, bench, at(design.dark[cell % 2], shift), &mut random);
                }
            }
        }
        Lie::Bays(bays) => {
            for bay in 0..2 * bays {
                let shift = shifted(&mut random, sizes);
                for strength in 0..3 {
                    add(bay % 2, strength, bay, at(design.dark[bay % 2], shift), &mut random);
                }
            }
        }
    }
    text
}

fn loaded(design: &Design, seed: u64) -> Option<Trial> {
    let mut options = LoadOptions { rooted: "rooted".into(), ..LoadOptions::default() }.with_tray("tray");
    options.treatments = vec!["dark".into(), "strength".into()];
    options.responses = vec![Response::count("roots")];
    match design.lie {
        Lie::Anywhere(_) => {}
        Lie::Benches(_) => options.block = Some("place".into()),
        Lie::Bays(_) => options.whole_plot = Some("place".into()),
    }
    read_csv(table(design, seed).as_bytes(), &options).ok()
}

/// Mean of each level of darkness over many places and trays.
fn truth(design: &Design) -> [f64; 2] {
    let placed = !matches!(design.lie, Lie::Anywhere(_));
    [0, 1].map(|dark| {
        let mut random = rng::stream(20_261_201, 7 + dark as u64);
        let (mut total, mut size) = (0.0, 0.0);
        for _ in 0..20_000 {
            let shift = if placed { shifted(&mut random, (0.3, 0.2)) } else { (0.0, 0.0) };
            let roots = cuttings_of(at(design.dark[dark], shift), design.law, 20, &mut random);
            total += roots.iter().sum::<f64>();
            size += match design.of {
                MeanOf::Stuck => 20.0,
                MeanOf::Rooted => roots.iter().filter(|one| **one > 0.0).count() as f64,
            };
        }
        total / size
    })
}

/// Alarms of darkness, strength and their interaction, whether the difference of darkness and a mean are covered, and any contrast of
/// strengths within darkness that is claimed.
fn one(design: &Design, truth: [f64; 2], seed: u64) -> Option<[Option<f64>; 6]> {
    let trial = loaded(design, seed)?;
    let spec = MeanModelSpec {
        mean_of: Some(design.of),
        interactions: vec![vec!["dark".into(), "strength".into()]],
        ..MeanModelSpec::of("roots", &["dark", "strength"])
    };
    let control = Control::new();
    let effects = trial.mean_effects(&spec, &control).ok()?.numbers.effects;
    let yes = |what: bool| f64::from(u8::from(what));
    let alarm = |at: usize| effects.get(at).and_then(|one| one.p).map(|p| yes(p < 0.05));
    let none = MeanContrastOptions { together: "none".parse().ok()?, seed: 1, ..MeanContrastOptions::default() };
    let gap = trial.mean_contrasts(&spec, "dark", &none, &control).ok()?.numbers.contrasts;
    let held = |value: f64, low: Option<f64>, high: Option<f64>| Some(yes(low? <= value && value <= high?));
    let covered = gap.first().and_then(|one| held(truth[1] - truth[0], one.low, one.high));
    let within = MeanLevelOptions { within: Some("strength".into()), ..MeanLevelOptions::default() };
    let means = trial.adjusted_means(&spec, "dark", &within).ok()?.numbers.means;
    let mean = means.get(1).and_then(|one| held(truth[1], one.low, one.high));
    let family = MeanContrastOptions { within: Some("dark".into()), seed: 1, ..MeanContrastOptions::default() };
    let family = trial.mean_contrasts(&spec, "strength", &family, &control).ok()?.numbers.contrasts;
    let tested: Vec<f64> = family.iter().filter_map(|one| one.p_adjusted).collect();
    let any = (!tested.is_empty()).then(|| yes(tested.iter().any(|p| *p < 0.05)));
    Some([alarm(0), alarm(1), alarm(2), covered, mean, any])
}

#[test]
fn models_of_means_hold_their_alarms_and_coverage() {
    let (runs, most, least) = full().map_or((150, 0.11, 0.86), |runs| (runs, 0.065, 0.92));
    let fast = full().is_none();
    let level = |take: f64, roots: f64| Level { take, roots };
    let pairs =
        [[level(0.5, 4.0); 2], [level(0.15, 3.0); 2], [level(0.95, 8.0); 2], [level(0.2, 3.0), level(0.8, 5.0)]];
    let lies = [
        ("3 trays each", Lie::Anywhere(3)),
        ("3 and 4 trays each", Lie::Anywhere(4)),
        ("3 benches", Lie::Benches(3)),
        ("5 benches", Lie::Benches(5)),
        ("3 bays each", Lie::Bays(3)),
        ("5 bays each", Lie::Bays(5)),
    ];
    println!(
        "\n| means over | trays lie | law | dark: takes | roots | trials | dark | strength | interaction | covers dark | covers a mean | family |\n|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for (of, name) in [(MeanOf::Stuck, "stuck"), (MeanOf::Rooted, "rooted")] {
        for (number, law) in LAWS.into_iter().enumerate() {
            for dark in pairs {
                for (said, lie) in lies {
                    if fast && (number == 0 || dark[0].take == 0.15 || !matches!(lie, Lie::Benches(3) | Lie::Bays(3))) {
                        continue;
                    }
                    let design = Design { lie, cuttings: 12, law, dark, of };
                    let truth = truth(&design);
                    let alike = dark[0] == dark[1];
                    let found = |runs: u64, first: u64| {
                        let all: Vec<[Option<f64>; 6]> =
                            (0..runs).into_par_iter().filter_map(|seed| one(&design, truth, first + seed)).collect();
                        let share = |which: usize| {
                            let known: Vec<f64> = all.iter().filter_map(|one| one[which]).collect();
                            (known.len() * 5 > all.len()).then(|| known.iter().sum::<f64>() / known.len() as f64)
                        };
                        ([0, 1, 2, 3, 4, 5].map(share), all.len())
                    };
                    let bad = |shares: &[Option<f64>; 6]| {
                        let alarms = [shares[0].filter(|_| alike), shares[1], shares[2], shares[5]];
                        alarms.iter().flatten().any(|share| *share > most)
                            || shares[3..5].iter().flatten().any(|share| *share < least)
                    };
                    let (mut shares, mut trials) = found(runs, 0);
                    if bad(&shares) {
                        // The farthest of many is partly chance: it is run again with more trials.
                        (shares, trials) = found(4 * runs, 1 << 20);
                    }
                    println!(
                        "| {name} | {said} | {number} | {} and {} | {} and {} | {trials} | {} |",
                        dark[0].take,
                        dark[1].take,
                        dark[0].roots,
                        dark[1].roots,
                        shares.map(percent).join(" | ")
                    );
                    assert!(!bad(&shares), "{name} {said} {number} {dark:?} {shares:?}");
                }
            }
        }
    }
}
