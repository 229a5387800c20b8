//! "No curve fits" of a strength curve with `shape = "auto"`: hardly ever said of one hump, as often as may be of two.

use rootling::curves::{CurveOptions, TrayCount, Withheld};
use rootling::math::rng;

use crate::curves::{Truth, ask, tested};
use crate::summary::Figures;

/// A trial to draw.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FitCase {
    pub strengths: Vec<f64>,
    pub rates: Vec<f64>,
    pub trays: usize,
    pub kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    OneHump,
    /// One hump that is narrower over its floor than any shape.
    NarrowPeak,
    TwoHumps,
}

/// One hump: those of the curves' calibration and one that is none of the shapes. A peak that none of them follows. Two humps.
pub(crate) fn cases() -> Vec<FitCase> {
    let gamma = |d: f64| 0.15 + 0.5 * (d / 2500.0) * (1.0 - d / 2500.0).exp();
    let peak = |d: f64| 0.1 + 0.6 * (-((d + 50.0) / 2000.0_f64).ln().powi(2) / 0.8).exp();
    let mut cases = Vec::new();
    for (count, trays) in [(5, 4), (5, 8), (6, 6), (6, 12), (8, 4), (8, 8)] {
        let strengths = tested(count, 8000.0);
        let mut add = |kind: Kind, rate: &dyn Fn(f64) -> f64| {
            let rates = strengths.iter().map(|d| rate(*d)).collect();
            cases.push(FitCase { strengths: strengths.clone(), rates, trays, kind });
        };
        for truth in [
            Truth::Hump(500.0, 2000.0, 0.70, 0.15),
            Truth::Hump(1000.0, 2500.0, 0.65, 0.20),
            Truth::Plateau(900.0, 5500.0),
            Truth::Stimulus(0.2, 0.000_37, 3200.0, 2.5),
        ] {
            add(Kind::OneHump, &|d| truth.rate(d));
        }
        add(Kind::OneHump, &gamma);
        add(Kind::NarrowPeak, &peak);
    }
    for (rates, trays) in [
        (vec![0.15, 0.60, 0.20, 0.65, 0.30, 0.10], 6),
        (vec![0.15, 0.60, 0.30, 0.65, 0.30, 0.10], 6),
        (vec![0.15, 0.60, 0.30, 0.65, 0.30, 0.10], 12),
        (vec![0.20, 0.55, 0.35, 0.60, 0.40, 0.15], 6),
        (vec![0.20, 0.55, 0.35, 0.60, 0.40, 0.15], 12),
        (vec![0.10, 0.50, 0.60, 0.30, 0.60, 0.20], 8),
        (vec![0.10, 0.35, 0.60, 0.35, 0.30, 0.60, 0.40, 0.10], 4),
        (vec![0.10, 0.35, 0.60, 0.35, 0.30, 0.60, 0.40, 0.10], 8),
        (vec![0.15, 0.60, 0.25, 0.60, 0.20], 8),
        (vec![0.15, 0.60, 0.35, 0.60, 0.20], 8),
    ] {
        cases.push(FitCase { strengths: tested(rates.len(), 8000.0), rates, trays, kind: Kind::TwoHumps });
    }
    cases
}

pub(crate) fn one_trial(case: &FitCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let mut trays = Vec::new();
    for (strength, rate) in case.strengths.iter().zip(&case.rates) {
        for _ in 0..case.trays {
            let rooted = rng::beta_binomial(random, 20, *rate, 0.05);
            trays.push(TrayCount { strength: *strength, rooted, stuck: 20, block: None });
        }
    }
    let curve = ask(trays, None, CurveOptions::default());
    let yes = |is: bool| f64::from(u8::from(is));
    let mut figures = Figures::default();
    figures.add("refused", 0, yes(curve.best.withheld == Some(Withheld::NoCurveFits)));
    // The rule before: the likeliest shape alone, at 5 %.
    figures.add("refused", 1, yes(curve.shapes[0].lack_p.is_some_and(|p| p <= 0.05)));
    figures
}

/// One hump is hardly ever refused, two humps with eight trays of each strength nearly always.
#[test]
fn no_curve_fits_is_said_of_two_humps() {
    let results = crate::run(cases(), crate::full().unwrap_or(8), one_trial);
    println!("\n| true curve | strengths | trays | refused | by the likeliest shape at 5 % |\n|---|---|---|---|---|");
    for (case, figures) in &results.rows {
        let share = |rule| format!("{:.1}", 100.0 * figures.mean("refused", rule, results.runs as f64));
        println!("| {:?} | {} | {} | {} | {} |", case.kind, case.rates.len(), case.trays, share(0), share(1));
    }
    let mean = |keep: fn(&FitCase) -> bool, rule| results.of("refused", rule, keep).unwrap().mean;
    let many: fn(&FitCase) -> bool = |case| case.kind == Kind::TwoHumps && case.trays >= 8;
    let (one, before) = (mean(|case| case.kind == Kind::OneHump, 0), mean(|case| case.kind == Kind::OneHump, 1));
    println!("one hump refused: {:.2} % (before {:.2} %)", 100.0 * one, 100.0 * before);
    println!("two humps of 8 trays or more: {:.1} % (before {:.1} %)", 100.0 * mean(many, 0), 100.0 * mean(many, 1));
    assert!(one <= if results.runs >= 100 { 0.008 } else { 0.02 }, "{one}");
    assert!(mean(many, 0) >= 0.92, "{}", mean(many, 0));
}
