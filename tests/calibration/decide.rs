//! Levels weighed in money: do limits of gains and of their difference hold, and do chances of being best come true?

use rootling::control::Control;
use rootling::decide::{ChooseOptions, LevelChoice, weigh};
use rootling::math::rng::{self, ChaCha8Rng};
use rootling::report::Spoken;
use rootling::simulate::replicates;
use rootling::trial::{Factor, UnitKind, Units};

/// Draws of each answer; a fifth of the default is enough for how often limits hold.
const DRAWS: u64 = 2_000;
/// Takes of the levels, in a mean season.
const TAKES: [[f64; 3]; 3] = [[0.45, 0.55, 0.60], [0.80, 0.88, 0.93], [0.05, 0.15, 0.20]];
/// Seasons that the choice is to hold.
const SEASONS: u64 = 3;

fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

fn take_at(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

fn column(name: &str, codes: Vec<u32>, levels: usize) -> Factor {
    Factor { name: name.to_owned(), codes, numbers: None, levels: (0..levels).map(|one| one.to_string()).collect() }
}

/// A trial to be drawn.
#[derive(Debug, Clone, Copy)]
struct Case {
    trays: usize,
    correlation: f64,
    season_sd: f64,
    /// Standard deviation of benches on log odds, each with a tray of every level; 0 without benches.
    benches: f64,
}

impl Case {
    /// Trays of 20 at each level, in a season of its own.
    fn drawn(&self, odds: &[f64], random: &mut ChaCha8Rng) -> Units {
        let (levels, all) = (odds.len(), odds.len() * self.trays);
        let bench: Vec<f64> = (0..self.trays).map(|_| self.benches * rng::deviate(random)).collect();
        let mut rooted = Vec::with_capacity(all);
        for odds in odds {
            let moved = odds + self.season_sd * rng::deviate(random);
            let tray = |bench: &f64| rng::beta_binomial(random, 20, take_at(moved + bench), self.correlation);
            rooted.extend(bench.iter().map(tray));
        }
        let codes = |of: fn(u32, u32) -> u32| (0..all as u32).map(|tray| of(tray, self.trays as u32)).collect();
        Units {
            kind: UnitKind::Tray,
            rooted,
            stuck: vec![20; all],
            treatments: vec![column("strength", codes(|tray, trays| tray / trays), levels)],
            tray: Some(column("tray", codes(|tray, _| tray), all)),
            block: (self.benches > 0.0).then(|| column("bench", codes(|tray, trays| tray % trays), self.trays)),
            whole_plot: None,
            season: None,
            earlier: None,
            stock_plant: None,
            covariates: Vec::new(),
        }
    }

    /// Mean takes over the benches of the nursery, in the seasons that come.
    fn to_come(self, odds: &[f64], random: &mut ChaCha8Rng) -> Vec<f64> {
        let mut mean = |odds: &f64| {
            let seasons: Vec<f64> = (0..SEASONS).map(|_| odds + self.season_sd * rng::deviate(random)).collect();
            let over = |odds: f64| {
                // Mean over benches by five equal steps of the normal law's middle.
                let rule = [-1.9, -0.95, 0.0, 0.95, 1.9];
                let weights = rule.map(|z: f64| (-0.5 * z * z).exp());
                let sum: f64 = rule.iter().zip(&weights).map(|(z, w)| w * take_at(odds + self.benches * z)).sum();
                sum / weights.iter().sum::<f64>()
            };
            seasons.iter().map(|odds| if self.benches > 0.0 { over(*odds) } else { take_at(*odds) }).sum::<f64>()
                / SEASONS as f64
        };
        odds.iter().map(&mut mean).collect()
    }

    fn asked(&self, units: &Units, random: &mut ChaCha8Rng) -> rootling::Result<LevelChoice> {
        let season_sd = (self.season_sd > 0.0).then_some(self.season_sd);
        let seed = (rng::uniform(random) * 1e9) as u64;
        let options =
            ChooseOptions { draws: DRAWS, seasons: SEASONS, season_sd, seed, ..ChooseOptions::of(1.0, 1.0, 0.0) };
        Ok(weigh(units, "strength", &Spoken::plain("strength"), &options, &Control::new())?.numbers)
    }
}

fn holds(low: f64, x: f64, high: f64) -> f64 {
    f64::from(u8::from(low <= x && x <= high))
}

/// Limits of every level, and of the difference between two levels named beforehand and between the two best as found.
fn limits_of(case: &Case, takes: &[f64], random: &mut ChaCha8Rng) -> rootling::Result<[f64; 3]> {
    let odds: Vec<f64> = takes.iter().map(|take| logit(*take)).collect();
    let units = case.drawn(&odds, random);
    if units.rooted.iter().all(|rooted| *rooted == 0) {
        return Ok([f64::NAN; 3]);
    }
    let found = case.asked(&units, random)?;
    let truth = case.to_come(&odds, random);
    let levels = found.levels.iter().zip(&truth).map(|(level, truth)| holds(level.low, *truth, level.high));
    let all = levels.sum::<f64>() / truth.len() as f64;
    let at = |name: &str| name.parse::<usize>().ok().and_then(|at| truth.get(at)).copied().unwrap_or(f64::NAN);
    let behind = found.levels.iter().filter(|level| level.level != found.best).map(|level| {
        let apart = at(&found.best) - at(&level.level);
        holds(level.behind_low.unwrap_or(f64::NAN), apart, level.behind_high.unwrap_or(f64::NAN))
    });
    let pairs = behind.sum::<f64>() / (truth.len() - 1) as f64;
    Ok([all, pairs, holds(found.low, at(&found.best) - at(&found.runner_up), found.high)])
}

const DESIGNS: [(usize, f64); 6] = [(3, 0.05), (4, 0.0), (4, 0.10), (6, 0.05), (6, 0.15), (12, 0.05)];

pub(crate) fn limits_hold(runs: u64) {
    println!(
        "\n### Limits\n\n| trays | correlation | season SD | benches | takes | gains | behind the best | two best |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for (trays, correlation) in DESIGNS {
        for (season_sd, benches) in [(0.0, 0.0), (0.3, 0.0), (0.0, 0.5)] {
            let case = Case { trays, correlation, season_sd, benches };
            for takes in TAKES {
                let one = |random: &mut ChaCha8Rng| limits_of(&case, &takes, random);
                let add = |sums: &mut [f64; 4], one: [f64; 3]| {
                    if one[0].is_finite() {
                        sums.iter_mut().zip(one.into_iter().chain([1.0])).for_each(|(a, b)| *a += b);
                    }
                };
                let sums: [f64; 4] = replicates(runs, 20_261_130, 0, &Control::new(), one, add).unwrap();
                let share = |at: usize| sums[at] / sums[3];
                println!(
                    "| {trays} | {correlation} | {season_sd} | {benches} | {takes:?} | {:.1} | {:.1} | {:.1} |",
                    100.0 * share(0),
                    100.0 * share(1),
                    100.0 * share(2)
                );
                for at in 0..3 {
                    let slack = 3.5 * (0.92 * 0.08 / sums[3]).sqrt();
                    assert!(share(at) >= 0.92 - slack, "{case:?} {takes:?}: {}", share(at));
                }
            }
        }
    }
}

/// Classes of what is claimed.
const CLAIMS: [f64; 6] = [0.0, 0.5, 0.7, 0.85, 0.95, 1.000_001];

/// Standard deviation of levels on log odds where they differ broadly: takes of a trial run over most of what there is.
const BROAD: f64 = 1.5;

/// Chances of being best over truths of a broad law: takes of a trial about a common one, each level with its own.
pub(crate) fn chances_come_true(runs: u64) {
    println!(
        "\n### Chances\n\n| trays | correlation | season SD | claimed | on average | came true | trials |\n|---|---|---|---|---|---|---|"
    );
    for (trays, correlation) in [(3, 0.05), (6, 0.05), (12, 0.10)] {
        for season_sd in [0.0, 0.3] {
            let case = Case { trays, correlation, season_sd, benches: 0.0 };
            let one = |random: &mut ChaCha8Rng| -> rootling::Result<(f64, f64)> {
                let middle = rng::deviate(random);
                let odds: Vec<f64> = (0..3).map(|_| middle + BROAD * rng::deviate(random)).collect();
                let units = case.drawn(&odds, random);
                if units.rooted.iter().all(|rooted| *rooted == 0) {
                    return Ok((f64::NAN, 0.0));
                }
                let found = case.asked(&units, random)?;
                let truth = case.to_come(&odds, random);
                let best = truth.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |one| one.0);
                Ok((found.chance_best, f64::from(u8::from(found.best == best.to_string()))))
            };
            let add = |all: &mut Vec<(f64, f64)>, one: (f64, f64)| all.push(one);
            let all: Vec<(f64, f64)> = replicates(runs, 20_261_201, 0, &Control::new(), one, add).unwrap();
            for bounds in CLAIMS.windows(2) {
                let inside = || all.iter().filter(|one| one.0 >= bounds[0] && one.0 < bounds[1]);
                let count = inside().count() as f64;
                let (claimed, true_ones) = inside().fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
                if count < 1.0 {
                    continue;
                }
                let (claimed, share) = (claimed / count, true_ones / count);
                println!(
                    "| {trays} | {correlation} | {season_sd} | {:.0} to {:.0} | {:.1} | {:.1} | {count} |",
                    100.0 * bounds[0],
                    100.0 * bounds[1].min(1.0),
                    100.0 * claimed,
                    100.0 * share
                );
                let slack = 3.5 * (claimed * (1.0 - claimed) / count).sqrt() + 1.0 / count;
                assert!(share >= claimed - 0.04 - slack, "{case:?}: {share} of {claimed}");
            }
        }
    }
}
