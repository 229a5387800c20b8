//! Strength curves where some strengths kill every cutting or root every one: takes, ranges and limits, beside the pairs.
//!
//! Nothing here is of the laws or shapes that are fitted: the true takes are a saturating rise times a Weibull survival, or straight pieces
//! along the root of the strength; trays differ by normal effects on the log odds or by a beta law, and hold uneven numbers of cuttings.

use rootling::compare::{AllOptions, CompareOptions, all_levels};
use rootling::control::Control;
use rootling::curves::{CurveOptions, Located, OneCurve, TrayCount};
use rootling::math::rng;
use rootling::math::special::{expit, logit};
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::trial::{Factor, UnitKind, Units};

use crate::curves::ask;
use crate::summary::Figures;

/// A true curve that reaches 0 or 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Deadly {
    /// `(base + (most - base) (1 - 2^-(d / rise))) 2^-(d / kill)^steep`: base, most, rise, kill, steep.
    Burnt(f64, f64, f64, f64, f64),
    /// Straight along the root of the strength from the take at 0 to the best at `top`, and on to nothing at `end`: take at 0, best, top, end.
    Tent(f64, f64, f64, f64),
}

impl Deadly {
    pub(crate) fn rate(self, d: f64) -> f64 {
        match self {
            Self::Burnt(base, most, rise, kill, steep) => {
                (base + (most - base) * (1.0 - (-d / rise).exp2())) * (-(d / kill).powf(steep)).exp2()
            }
            Self::Tent(base, best, top, end) => {
                let (x, up, down) = (d.sqrt(), top.sqrt(), end.sqrt());
                let rate = if x < up { base + (best - base) * x / up } else { best * (down - x) / (down - up) };
                rate.max(0.0)
            }
        }
    }

    /// The strengths up to `most` whose take is the best to a thousandth, the best take, and the lowest strength with 95 % of it.
    pub(crate) fn best(self, most: f64) -> (f64, f64, f64, f64) {
        let at = |i: i32| most * (f64::from(i) / 20_000.0).powi(2);
        let all: Vec<(f64, f64)> = (0..=20_000).map(at).map(|d| (d, self.rate(d))).collect();
        let best = all.iter().map(|one| one.1).fold(0.0, f64::max);
        let near = |one: &&(f64, f64)| one.1 >= best - 0.001;
        let first = all.iter().find(near).unwrap().0;
        let last = all.iter().rev().find(near).unwrap().0;
        let adequate = all.iter().find(|one| one.1 >= 0.95 * best).unwrap().0;
        (first, last, best, adequate)
    }
}

/// How trays differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum TrayLaw {
    /// Normal effects on the log odds with this standard deviation.
    Normal(f64),
    /// A beta law with this correlation.
    Beta(f64),
}

/// A trial to draw.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DeadlyCase {
    pub truth: Deadly,
    pub strengths: Vec<f64>,
    pub trays: usize,
    pub cuttings: u64,
    pub law: TrayLaw,
}

/// The trays of one trial.
pub(crate) fn drawn(case: &DeadlyCase, random: &mut rng::ChaCha8Rng) -> Vec<TrayCount> {
    let mut trays = Vec::new();
    for strength in &case.strengths {
        let rate = case.truth.rate(*strength);
        for _ in 0..case.trays {
            // A tray in three lost a few cuttings before it was stuck.
            let stuck = case.cuttings - u64::from(rng::below(random, 3) == 0) * u64::from(rng::below(random, 4));
            let rooted = match case.law {
                TrayLaw::Normal(deviation) => {
                    let own = logit(rate.clamp(1e-9, 1.0 - 1e-9)) + deviation * rng::deviate(random);
                    rng::binomial(random, stuck, expit(own))
                }
                TrayLaw::Beta(icc) => rng::beta_binomial(random, stuck, rate, icc),
            };
            trays.push(TrayCount { strength: *strength, rooted, stuck, block: None });
        }
    }
    trays
}

/// The trays as a trial that can be asked for pairs.
pub(crate) fn units(trays: &[TrayCount], strengths: &[f64]) -> Units {
    let code = |tray: &TrayCount| strengths.iter().position(|one| *one == tray.strength).unwrap() as u32;
    let factor = Factor {
        name: "strength".to_owned(),
        levels: strengths.iter().map(f64::to_string).collect(),
        numbers: Some(strengths.to_vec()),
        codes: trays.iter().map(code).collect(),
    };
    let names = Factor {
        name: "tray".to_owned(),
        levels: (0..trays.len()).map(|at| at.to_string()).collect(),
        numbers: None,
        codes: (0..trays.len() as u32).collect(),
    };
    Units {
        kind: UnitKind::Tray,
        rooted: trays.iter().map(|tray| tray.rooted).collect(),
        stuck: trays.iter().map(|tray| tray.stuck).collect(),
        treatments: vec![factor],
        tray: Some(names),
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
    }
}

/// Strengths that some pair shows to be worse than another strength by more than `margin`.
pub(crate) fn rejected(units: &Units, margin: f64) -> Vec<f64> {
    let compare = CompareOptions { randomisations: 99, ..CompareOptions::default() };
    let options = AllOptions { compare, ..AllOptions::default() };
    let found = all_levels(units, "strength", &options, &Control::new()).unwrap().numbers;
    let mut all = Vec::new();
    for pair in &found.pairs {
        if pair.low.is_some_and(|low| low > margin) {
            all.push(pair.first.parse().unwrap());
        }
        if pair.high.is_some_and(|high| high < -margin) {
            all.push(pair.second.parse().unwrap());
        }
    }
    all
}

/// Width of the interval of the take at the best strength tested.
fn width_of_best(units: &Units) -> f64 {
    let found = take_rates(units, &["strength"], &TakeRatesOptions::default()).unwrap().numbers;
    let best = found.rates.iter().max_by(|a, b| a.value.total_cmp(&b.value)).unwrap();
    best.high - best.low
}

/// What is printed of each design.
pub(crate) const FIGURES: [&str; 11] = [
    "best strength",
    "adequate strength",
    "take",
    "range agrees",
    "range holds the best",
    "take wider than 40",
    "take_rates wider than 40",
    "over 1.3 of plain",
    "not located",
    "trees lost",
    "with an end",
];

/// One trial: coverage, widths, agreement with the pairs.
pub(crate) fn one_trial(case: &DeadlyCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let trays = drawn(case, random);
    let units = units(&trays, &case.strengths);
    let rejected = rejected(&units, 0.05);
    let curve = ask(trays, None, CurveOptions::default());
    judged(case, &curve, &rejected, width_of_best(&units))
}

fn judged(case: &DeadlyCase, curve: &OneCurve, rejected: &[f64], plain: f64) -> Figures {
    let mut figures = Figures::default();
    let yes = |is: bool| f64::from(u8::from(is));
    let (best, most) = (&curve.best, *case.strengths.last().unwrap());
    let (first, last, _, adequate) = case.truth.best(3.0 * most);
    let found = &best.strength;
    let held = (found.open_low || found.low <= last) && (found.open_high || found.high >= first);
    figures.add("best strength", 0, yes(held));
    let fine = &best.adequate;
    let reached = (fine.open_low || fine.low <= adequate) && (fine.open_high || fine.high >= adequate);
    figures.add("adequate strength", 0, yes(reached));
    let there = case.truth.rate(found.value);
    figures.add("take", 0, yes(best.take_low <= there && there <= best.take_high));
    let width = best.take_high - best.take_low;
    figures.add("take wider than 40", 0, yes(width > 0.4));
    figures.add("take_rates wider than 40", 0, yes(plain > 0.4));
    figures.add("width", 0, width);
    figures.add("plain width", 0, plain);
    figures.add("over 1.3 of plain", 0, yes(width > 1.3 * plain));
    let kept = rejected.iter().any(|one| best.range_low <= *one && *one <= best.range_high);
    figures.add("range agrees", 0, yes(!kept));
    let within = first.min(most);
    figures.add("range holds the best", 0, yes(best.range_low <= last && within <= best.range_high));
    figures.add("not located", 0, yes(best.located != Located::Inside));
    let top = case.truth.best(most).2;
    figures.add("trees lost", 0, top - there);
    let ends = curve.strengths.iter().any(|one| one.rooted == 0 || one.rooted == one.stuck);
    figures.add("with an end", 0, yes(ends));
    figures
}

/// Designs in which one strength or more kills or roots all.
pub(crate) fn cases() -> Vec<DeadlyCase> {
    let four = vec![0.0, 1000.0, 3000.0, 8000.0];
    let five = vec![0.0, 1000.0, 2000.0, 4000.0, 8000.0];
    let six = vec![0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
    let three = vec![0.0, 2000.0, 8000.0];
    let (normal, beta) = (TrayLaw::Normal(0.45), TrayLaw::Beta(0.05));
    let shapes: [(Deadly, &Vec<f64>, TrayLaw); 10] = [
        // The highest strength kills.
        (Deadly::Burnt(0.2, 0.8, 700.0, 4500.0, 5.0), &four, normal),
        (Deadly::Tent(0.25, 0.65, 2500.0, 7000.0), &four, beta),
        (Deadly::Burnt(0.2, 0.75, 500.0, 4500.0, 5.0), &three, normal),
        // The two highest kill.
        (Deadly::Burnt(0.3, 0.8, 600.0, 1900.0, 4.0), &five, beta),
        (Deadly::Tent(0.3, 0.6, 1000.0, 3000.0), &six, normal),
        // Nothing roots without hormone.
        (Deadly::Burnt(0.0, 0.7, 1500.0, 60_000.0, 2.0), &five, normal),
        // Both ends.
        (Deadly::Burnt(0.0, 0.75, 900.0, 4500.0, 5.0), &four, beta),
        (Deadly::Tent(0.0, 0.7, 2000.0, 7500.0), &six, normal),
        // Some strengths root all.
        (Deadly::Burnt(0.35, 0.999, 200.0, 7000.0, 6.0), &five, normal),
        (Deadly::Burnt(0.3, 1.0, 150.0, 3500.0, 8.0), &six, beta),
    ];
    let mut cases = Vec::new();
    for (truth, strengths, law) in shapes {
        for (trays, cuttings) in [(4, 20), (6, 25), (8, 12)] {
            cases.push(DeadlyCase { truth, strengths: strengths.clone(), trays, cuttings, law });
        }
    }
    cases
}
