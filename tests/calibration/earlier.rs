//! Earlier trials of the place: false alarms and power with them and without, where spreads differ from trial to trial.
//!
//! Each trial draws the spread of its bays and of its trays anew: their standard deviations are log-normal around 0.4 and 0.3.
//! `earlier.md` holds the long run and its reading.

use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::layers::Earlier;
use rootling::math::rng;
use rootling::models::TrayMode;
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread};
use rootling::trial::{Units, for_later};

use crate::effects::{asked, modelled};
use crate::summary::{Figures, percent};
use crate::{full, run};

/// Two lengths in bays of their own, two strengths within, two trays of 20 each; so many earlier trials of the same kind.
#[derive(Debug, Clone)]
struct Place {
    trials: u64,
    bays: u32,
    /// Standard deviation of the logarithm of a spread from trial to trial.
    varies: f64,
    /// What the present spread is multiplied by.
    times: f64,
    take: f64,
    beta: bool,
    bay_sd: f64,
}

impl Place {
    fn draw(&self, random: &mut rng::ChaCha8Rng, times: f64, effect: f64) -> Units {
        let mut spread = |sd: f64| times * sd * (self.varies * rng::deviate(random)).exp();
        let (bay, tray) = (spread(self.bay_sd), spread(0.3));
        let law = |sd: f64| if self.beta { UnitSpread::beta_like(sd, self.take) } else { UnitSpread::Normal(sd) };
        let bays = self.bays;
        let mut design = LayeredDesign::new(&[("length", 2), ("strength", 2)], 2 * bays, 20).with(
            UnitRole::WholePlot,
            "bay",
            law(bay),
            |tray| tray.level(0) * bays + tray.copy / 2,
        );
        design.trays = law(tray);
        let odds = self.take / (1.0 - self.take) * effect.exp();
        design.takes = vec![self.take, self.take, odds / (1.0 + odds), odds / (1.0 + odds)];
        design.draw(random)
    }
}

fn one_trial(place: &Place, random: &mut rng::ChaCha8Rng) -> Figures {
    let each: Vec<Earlier> =
        (0..place.trials).map(|at| for_later(&place.draw(random, 1.0, 0.5), &at.to_string()).unwrap()).collect();
    let earlier = Earlier::joined(&each);
    let mut figures = Figures::default();
    let (null, moved) = (place.draw(random, place.times, 0.0), place.draw(random, place.times, 1.2));
    for (at, earlier) in [None, earlier].into_iter().enumerate() {
        let with = |units: &Units| Units { earlier: earlier.clone(), ..units.clone() };
        let (null, moved) = (with(&null), with(&moved));
        let spec = asked(&["length", "strength"], &[], TrayMode::Auto);
        let alarms = modelled(&null, &spec);
        figures.add("model, between", at, alarms[0]);
        figures.add("model, within", at, alarms[1]);
        figures.add("power", at, modelled(&moved, &spec)[0]);
        let options = CompareOptions { randomisations: 199, ..CompareOptions::default() };
        let compared = |units: &Units| {
            let found = strengths(units, "length", "0", "1", &options, &Control::new()).ok();
            f64::from(u8::from(found.and_then(|found| found.numbers.p).is_some_and(|p| p <= 0.05)))
        };
        figures.add("compare, between", at, compared(&null));
        figures.add("power of compare", at, compared(&moved));
        let rates = take_rates(&null, &["length"], &TakeRatesOptions::default()).unwrap();
        // Effects of bays and trays move the mean; with a take of one half they do not.
        if place.take == 0.5 {
            let held = |rate: &rootling::rates::TakeRate| f64::from(u8::from(rate.low <= 0.5 && 0.5 <= rate.high));
            let width = |rate: &rootling::rates::TakeRate| rate.high - rate.low;
            figures.add("take held", at, rates.numbers.rates.iter().map(held).sum::<f64>() / 2.0);
            figures.add("width", at, rates.numbers.rates.iter().map(width).sum::<f64>() / 2.0);
        }
    }
    figures
}

fn places() -> Vec<Place> {
    let mut all = Vec::new();
    let (trials, takes): (&[u64], &[f64]) =
        if full().is_some() { (&[1, 2, 3, 5], &[0.5, 0.2]) } else { (&[1, 3], &[0.5]) };
    for trials in trials.iter().copied() {
        for bays in [2, 3] {
            for varies in [0.0, 0.35, 0.7] {
                for (take, beta) in takes.iter().flat_map(|take| [(*take, false), (*take, true)]) {
                    for bay_sd in [0.0, 0.4] {
                        all.push(Place { trials, bays, varies, times: 1.0, take, beta, bay_sd });
                    }
                }
            }
        }
    }
    all
}

const NAMES: [&str; 7] =
    ["model, between", "model, within", "compare, between", "power", "power of compare", "take held", "width"];

#[test]
fn earlier_trials_hold() {
    let runs = full().unwrap_or(30);
    let results = run(places(), runs, one_trial);
    println!("\n### Earlier trials: without / with, percent (highest design with)\n");
    println!("| earlier trials | bays per length | {} |\n|---|---|{}", NAMES.join(" | "), "---|".repeat(NAMES.len()));
    for trials in [1, 2, 3, 5] {
        for bays in [2, 3] {
            let keep = |place: &Place| place.trials == trials && place.bays == bays;
            if results.of("power", 0, keep).is_none() {
                continue;
            }
            let cell = |name: &&'static str| {
                let (before, after) = (results.of(name, 0, keep), results.of(name, 1, keep));
                let mean = |one: Option<crate::summary::Summary>| percent(one.map(|one| one.mean));
                format!("{} / {} ({})", mean(before), mean(after), percent(after.map(|one| one.high)))
            };
            let cells: Vec<String> = NAMES.iter().map(cell).collect();
            println!("| {trials} | {bays} | {} |", cells.join(" | "));
        }
    }
    let trials = (runs * results.rows.len() as u64) as f64;
    let slack = 3.0 * (0.05 * 0.95 / trials).sqrt();
    for name in ["model, between", "model, within", "compare, between"] {
        let found = results.of(name, 1, |_| true).unwrap();
        assert!(found.mean <= 0.065 + slack, "{name}: {found:?}");
    }
    let power = |at| results.of("power", at, |_| true).unwrap().mean;
    assert!(power(1) > power(0) + 0.05, "{} {}", power(0), power(1));
    assert!(results.of("take held", 1, |_| true).unwrap().mean >= 0.93 - slack);
    if full().is_some() {
        wider_now(runs);
    }
}

/// What a present spread beyond the law does.
fn wider_now(runs: u64) {
    println!("\n### The present spread is so many times the earlier ones: false alarms without / with, percent\n");
    println!("| earlier trials | bays per length | 1 x | 1.5 x | 2 x |\n|---|---|---|---|---|");
    for trials in [1, 2, 3, 5] {
        for bays in [2, 3] {
            let cells = [1.0, 1.5, 2.0].map(|times| {
                let place = |varies: f64| Place { trials, bays, varies, times, take: 0.5, beta: false, bay_sd: 0.4 };
                let found = run(vec![place(0.0), place(0.35), place(0.7)], 2 * runs, one_trial);
                let of = |at| percent(found.of("model, between", at, |_| true).map(|one| one.mean));
                format!("{} / {}", of(0), of(1))
            });
            println!("| {trials} | {bays} | {} |", cells.join(" | "));
        }
    }
}
