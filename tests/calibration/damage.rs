//! The damage threshold of trials with three outcomes: does its interval hold, and is it withheld where nothing rises?

use rootling::control::Control;
use rootling::curves::{DamageOptions, damage_threshold};
use rootling::math::rng;
use rootling::trial::{LoadOptions, read_csv};

use crate::curves::Truth;
use crate::summary::{Figures, percent};
use crate::{full, line, run};

/// Deaths along the strengths, as a proportion of the cuttings stuck.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Deaths {
    /// The same at all strengths.
    Even(f64),
    /// `floor + (ceiling - floor) F(ln d)`, logistic: floor, ceiling, strength halfway, steepness.
    Logistic(f64, f64, f64, f64),
    /// `1 - (1 - floor) exp(-(d / scale)^power)`: hits that add up.
    Hits(f64, f64, f64),
    /// As many everywhere up to a strength, then straight upward: floor, that strength, rise per 1000 mg/L.
    Broken(f64, f64, f64),
}

/// The rise that counts as damage.
const RISE: f64 = 0.05;

impl Deaths {
    fn rate(self, d: f64) -> f64 {
        match self {
            Self::Even(rate) => rate,
            Self::Logistic(floor, ceiling, half, steep) => {
                let odds = (d / half).powf(steep);
                floor + (ceiling - floor) * odds / (1.0 + odds)
            }
            Self::Hits(floor, scale, power) => 1.0 - (1.0 - floor) * (-(d / scale).powf(power)).exp(),
            Self::Broken(floor, from, slope) => (floor + slope * (d - from).max(0.0) / 1000.0).min(0.95),
        }
    }

    /// Where they have risen by [`RISE`]; infinite beyond the tested strengths.
    fn threshold(self) -> f64 {
        let wanted = self.rate(0.0) + RISE;
        let at = |i: i32| HIGHEST * (f64::from(i) / 20_000.0).powi(2);
        (0..=20_000).map(at).find(|d| self.rate(*d) >= wanted).unwrap_or(f64::INFINITY)
    }
}

const HIGHEST: f64 = 8000.0;

#[derive(Debug, Clone, PartialEq)]
struct DamageCase {
    deaths: Deaths,
    strengths: Vec<f64>,
    trays: usize,
}

fn cases() -> Vec<DamageCase> {
    let six = vec![0.0, 500.0, 1000.0, 2000.0, 4000.0, HIGHEST];
    let five = vec![0.0, 1000.0, 2500.0, 5000.0, HIGHEST];
    let mut cases = Vec::new();
    for deaths in [
        Deaths::Logistic(0.04, 0.75, 6000.0, 2.5),
        Deaths::Logistic(0.10, 0.60, 2500.0, 1.5),
        Deaths::Hits(0.05, 9000.0, 2.0),
        Deaths::Broken(0.05, 2000.0, 0.07),
        Deaths::Logistic(0.05, 0.80, 20_000.0, 3.5),
        Deaths::Even(0.05),
        Deaths::Even(0.20),
    ] {
        for (strengths, trays) in [(&five, 4), (&six, 4), (&six, 6), (&six, 8)] {
            cases.push(DamageCase { deaths, strengths: strengths.clone(), trays });
        }
    }
    cases
}

const CUTTINGS: u64 = 20;
const ICC: f64 = 0.05;

fn one_trial(case: &DamageCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let taken = Truth::Hump(500.0, 2000.0, 0.70, 0.15);
    let mut text = "strength,tray,rooted,dead,stuck\n".to_owned();
    for strength in &case.strengths {
        for tray in 0..case.trays {
            let dead = rng::beta_binomial(random, CUTTINGS, case.deaths.rate(*strength), ICC);
            let rooted = rng::beta_binomial(random, CUTTINGS - dead, taken.rate(*strength), ICC);
            text.push_str(&format!("{strength},{strength}-{tray},{rooted},{dead},{CUTTINGS}\n"));
        }
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        dead: Some("dead".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    };
    let trial = read_csv(text.as_bytes(), &options).unwrap();
    let asked = DamageOptions { rise: RISE, ..DamageOptions::default() };
    let found = damage_threshold(trial.units(), trial.dead().unwrap(), None, &asked, &Control::new()).unwrap();
    let (threshold, truth) = (&found.numbers.curves[0].threshold, case.deaths.threshold());
    let yes = |is: bool| f64::from(u8::from(is));
    let mut figures = Figures::default();
    figures.add("held", 0, yes(threshold.low <= truth && truth <= threshold.high));
    figures.add("too high", 0, yes(truth < threshold.low));
    figures.add("too low", 0, yes(threshold.high < truth));
    figures.add("located", 0, yes(threshold.located));
    figures
}

#[test]
fn damage_thresholds_hold() {
    let runs = full().map_or(12, |runs| runs / 4);
    let results = run(cases(), runs, one_trial);
    println!(
        "\n### Damage threshold\n\n| true deaths | threshold, mg/L | strengths | trays | held | lower limit too high | upper limit too low | located |\n|---|---|---|---|---|---|---|---|"
    );
    for (case, _) in &results.rows {
        let of = |name| percent(results.of(name, 0, |other| other == case).map(|one| one.mean));
        let truth = case.deaths.threshold();
        let truth = if truth.is_finite() { format!("{truth:.0}") } else { "none".to_owned() };
        let start = [truth, case.strengths.len().to_string(), case.trays.to_string()];
        let cells: Vec<String> = start.into_iter().chain(["held", "too high", "too low", "located"].map(of)).collect();
        line(&format!("{:?}", case.deaths), &cells);
    }
    for rises in [true, false] {
        let own = |case: &DamageCase| case.deaths.threshold().is_finite() == rises;
        let held = results.of("held", 0, own).unwrap();
        let located = results.of("located", 0, own).unwrap();
        println!("rises {rises}: held {}, located {}", percent(Some(held.mean)), percent(Some(located.mean)));
        let slack = 3.0 * (0.07 * 0.93 / (runs * 8) as f64).sqrt();
        assert!(held.mean >= 0.93 - slack, "rises {rises}: {held:?}");
        assert!(rises || located.mean <= 0.05 + slack, "located where nothing rises: {located:?}");
    }
}
