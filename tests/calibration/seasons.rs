//! One difference over seasons: do averages, limits of a new season, limits of the spread and tests hold what they promise?

use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::math::rng::{self, ChaCha8Rng};
use rootling::seasons::{Measured, average_of_these, average_over, drawn, q_profile, season_test};
use rootling::simulate::replicates;
use rootling::trial::{Factor, UnitKind, Units};

/// Standard errors within seasons, and the degrees of freedom behind them.
const DESIGNS: [(&str, [f64; 8], [f64; 8]); 4] = [
    ("0.05, df 10", [0.05; 8], [10.0; 8]),
    ("0.08, df 6", [0.08; 8], [6.0; 8]),
    ("0.03 to 0.08, worst with fewest df", UNEQUAL, [20.0, 6.0, 10.0, 8.0, 14.0, 6.0, 12.0, 7.0]),
    ("0.03 to 0.08, best with fewest df", UNEQUAL, [6.0, 20.0, 10.0, 8.0, 6.0, 14.0, 8.0, 18.0]),
];
const UNEQUAL: [f64; 8] = [0.03, 0.08, 0.05, 0.06, 0.03, 0.07, 0.04, 0.08];
const SPREADS: [f64; 4] = [0.0, 0.03, 0.06, 0.10];
/// The true average.
const TRUTH: f64 = 0.1;
/// Draws of each answer; a twentieth of the default is enough for how often limits hold.
const DRAWS: u64 = 500;

const COUNTED: [&str; 8] = [
    "average",
    "of these",
    "new season",
    "width of it",
    "spread",
    "spread, Q profile alone",
    "seasons differ",
    "one apart",
];

/// Seasons drawn, with what is asked of them.
struct Case {
    seasons: usize,
    spread: f64,
    se: [f64; 8],
    df: [f64; 8],
}

impl Case {
    fn one(&self, random: &mut ChaCha8Rng) -> rootling::Result<[f64; 8]> {
        let truth: Vec<f64> = (0..self.seasons).map(|_| TRUTH + self.spread * rng::deviate(random)).collect();
        let season = |(at, truth): (usize, &f64)| {
            let (se, df) = (self.se[at], self.df[at]);
            let value = truth + se * rng::deviate(random);
            Measured { value, variance: se * se * rng::chi_squared(random, df) / df, df }
        };
        let seasons: Vec<Measured> = truth.iter().enumerate().map(season).collect();
        asked(&seasons, &truth, self.spread, random)
    }
}

/// Whether what is said of seasons holds their truth, and that of a new one.
fn asked(seasons: &[Measured], truth: &[f64], spread: f64, random: &mut ChaCha8Rng) -> rootling::Result<[f64; 8]> {
    let new = TRUTH + spread * rng::deviate(random);
    let seed = (rng::uniform(random) * 1e9) as u64;
    let holds = |(low, high): (f64, f64), x: f64| f64::from(u8::from(low <= x && x <= high));
    let said = |p: f64| f64::from(u8::from(p < 0.05));
    let these = average_of_these(seasons, 0.95);
    let of_these = holds((these.low, these.high), truth.iter().sum::<f64>() / truth.len() as f64);
    let differ = said(season_test(seasons).p);
    if seasons.len() == 2 {
        return Ok([f64::NAN, of_these, f64::NAN, f64::NAN, f64::NAN, f64::NAN, differ, f64::NAN]);
    }
    let average = average_over(seasons, 0.95);
    let draws = drawn(seasons, DRAWS, seed, &Control::new())?;
    let (low, high) = draws.limits(0.95)?;
    let ahead = (low.min(average.low), high.max(average.high));
    let between = spread * spread;
    let apart = draws.apart(seasons).into_iter().fold(1.0, f64::min) * seasons.len() as f64;
    Ok([
        holds((average.low, average.high), TRUTH),
        of_these,
        holds(ahead, new),
        ahead.1 - ahead.0,
        holds(draws.spread_squared_limits(seasons, 0.95)?, between),
        holds(q_profile(seasons, 0.95), between),
        differ,
        if seasons.len() == 3 { f64::NAN } else { said(apart) },
    ])
}

pub(crate) fn limits_hold(runs: u64) {
    head("error within");
    for seasons in 2..=8 {
        for spread in SPREADS {
            for (name, se, df) in DESIGNS {
                let case = Case { seasons, spread, se, df };
                line(name, (seasons, spread), runs, |random| case.one(random));
            }
        }
    }
}

fn head(design: &str) {
    println!("\n### Seasons\n\n| seasons | spread | {design} | {} |", COUNTED.join(" | "));
    println!("|---|---|---|{}", "---|".repeat(COUNTED.len()));
}

/// Draws a case over and over, prints what was counted and judges it.
fn line(
    name: &str,
    (seasons, spread): (usize, f64),
    runs: u64,
    one: impl Fn(&mut ChaCha8Rng) -> rootling::Result<[f64; 8]> + Sync,
) {
    let add = |sums: &mut [f64; 8], one: [f64; 8]| sums.iter_mut().zip(one).for_each(|(a, b)| *a += b);
    let sums: [f64; 8] = replicates(runs, 20_260_101, 0, &Control::new(), one, add).unwrap();
    let shares = sums.map(|sum| sum / runs as f64);
    let told = |share: &f64| if share.is_nan() { "-".to_owned() } else { format!("{:.1}", 100.0 * share) };
    let cells: Vec<String> = shares.iter().map(told).collect();
    println!("| {seasons} | {:.0} | {name} | {} |", 100.0 * spread, cells.join(" | "));
    holds((seasons, spread), &shares, runs);
}

/// Trials to be drawn: trays of 20 at each level, correlation of cuttings, usual take.
const TRIALS: [(usize, f64, f64); 4] = [(4, 0.05, 0.5), (6, 0.10, 0.35), (6, 0.02, 0.8), (4, 0.0, 0.5)];

/// The same from counts of trays, by the comparison of each season.
pub(crate) fn trials_hold(runs: u64) {
    head("trays, correlation, take");
    for (trays, correlation, take) in TRIALS {
        for seasons in [2, 3, 4, 5, 6, 8] {
            for spread in [0.0, 0.06, 0.10] {
                let one = |random: &mut ChaCha8Rng| {
                    let season = |_| {
                        // Takes differ between seasons by 8 points; the difference lies around them.
                        let (middle, apart) =
                            (take + 0.08 * rng::deviate(random), TRUTH + spread * rng::deviate(random));
                        let takes = [middle - apart / 2.0, middle + apart / 2.0].map(|one| one.clamp(0.01, 0.99));
                        Ok((compared(trays, takes, correlation, random)?, takes[1] - takes[0]))
                    };
                    let drawn: Vec<(Measured, f64)> = (0..seasons).map(season).collect::<rootling::Result<_>>()?;
                    let (measured, truth): (Vec<Measured>, Vec<f64>) = drawn.into_iter().unzip();
                    asked(&measured, &truth, spread, random)
                };
                line(&format!("{trays}, {correlation}, {take}"), (seasons, spread), runs, one);
            }
        }
    }
}

/// What a season's trial says of its difference.
fn compared(trays: usize, takes: [f64; 2], correlation: f64, random: &mut ChaCha8Rng) -> rootling::Result<Measured> {
    let names = |levels: usize| (0..levels).map(|level| level.to_string()).collect();
    let column = |name: &str, levels: usize, codes: Vec<u32>| Factor {
        name: name.to_owned(),
        codes,
        numbers: None,
        levels: names(levels),
    };
    let all = 2 * trays;
    let mut rooted = Vec::with_capacity(all);
    for take in takes {
        rooted.extend((0..trays).map(|_| rng::beta_binomial(random, 20, take, correlation)));
    }
    let units = Units {
        kind: UnitKind::Tray,
        rooted,
        stuck: vec![20; all],
        treatments: vec![column("strength", 2, (0..all).map(|tray| u32::from(tray >= trays)).collect())],
        tray: Some(column("tray", all, (0..all as u32).collect())),
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
    };
    let options = CompareOptions { randomisations: 19, ..CompareOptions::default() };
    let found = strengths(&units, "strength", "0", "1", &options, &Control::new())?.numbers;
    Ok(Measured::of_limits(found.value, (found.low.unwrap(), found.high.unwrap()), found.df.unwrap(), 0.95))
}

fn holds((seasons, spread): (usize, f64), shares: &[f64; 8], runs: u64) {
    let slack = |p: f64| 3.5 * (p * (1.0 - p) / runs as f64).sqrt();
    for (at, least) in [(0, 0.93), (1, 0.93), (2, 0.93), (4, 0.93)] {
        let (share, what) = (shares[at], COUNTED[at]);
        assert!(share.is_nan() || share >= least - slack(least), "{what}, {seasons} seasons, spread {spread}: {share}");
    }
    // No season truly lies apart; seasons differ by chance alone where there is no spread.
    let most = 0.065 + slack(0.065);
    assert!(shares[7].is_nan() || shares[7] <= most, "one apart: {}", shares[7]);
    assert!(spread > 0.0 || shares[6] <= most, "seasons differ: {}", shares[6]);
}
