//! Best strengths pooled over seasons: do the average and limits of a new season hold, also where some seasons have theirs near the highest tested?

use rootling::control::Control;
use rootling::curves::{CurveOptions, strength_curve};
use rootling::math::rng::{self, ChaCha8Rng};
use rootling::seasons::{BestOptions, CurveSeason, pool_curves};
use rootling::simulate::{LayeredDesign, UnitSpread, replicates};

use crate::summary::Figures;

const STRENGTHS: [f64; 6] = [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
/// Where the best strength of an ordinary season lies, and the scale on which seasons move about it.
const BEST: f64 = 2400.0;
const SCALE: f64 = 500.0;

fn x(strength: f64) -> f64 {
    (strength / SCALE).ln_1p()
}

/// A hump of takes that none of the fitted shapes is: a bell on the scale, up to 75 %.
fn take(strength: f64, top: f64) -> f64 {
    0.75 * (-0.5 * ((x(strength) - top) / 0.95).powi(2)).exp()
}

/// One pool of so many seasons that differ by a standard deviation on the scale.
fn one(seasons: usize, spread: f64, random: &mut ChaCha8Rng) -> rootling::Result<Figures> {
    let control = Control::new();
    let mut figures = Figures::default();
    let mut curves = Vec::new();
    for _ in 0..seasons {
        let top = x(BEST) + spread * rng::deviate(random);
        let design = LayeredDesign::new(&[("strength", 6)], 5, 20).along(&STRENGTHS, |strength| take(strength, top));
        let design = LayeredDesign { trays: UnitSpread::Beta(0.05), ..design };
        curves.push(strength_curve(&design.draw(random), None, &CurveOptions::default(), &control)?);
    }
    let names: Vec<String> = (0..seasons).map(|at| at.to_string()).collect();
    let given: Vec<CurveSeason<'_>> =
        names.iter().zip(&curves).map(|(name, curve)| CurveSeason::Curve(Some(name), curve)).collect();
    let options = BestOptions { draws: 1000, ..BestOptions::default() };
    let Ok(found) = pool_curves(&given, &options, &control) else { return Ok(figures) };
    let found = found.numbers;
    let holds = |low: f64, high: f64, value: f64| f64::from(u8::from(low <= value && value <= high));
    let new = SCALE * (x(BEST) + spread * rng::deviate(random)).exp_m1();
    figures.add("pooled", 0, 1.0);
    figures.add("average", 0, holds(found.low, found.high, BEST));
    figures.add("entering", 0, found.n_seasons as f64 / seasons as f64);
    figures.add("too low or high", 0, x(found.value) - x(BEST));
    if let Some((low, high)) = found.new_low.zip(found.new_high) {
        figures.add("spoken of", 0, 1.0);
        figures.add("new", 0, holds(low, high, new));
    }
    Ok(figures)
}

/// Limits of the average and of a new season hold 92 of 100 and more, within what so many pools can show.
pub(crate) fn curves_hold(runs: u64) {
    println!(
        "\n### Best strengths\n\n| seasons | spread | average | new season | entering | off by |\n|---|---|---|---|---|---|"
    );
    let slack = 3.0 * (0.08 * 0.92 / runs as f64).sqrt();
    for (seasons, spread) in [(3, 0.0), (3, 0.2), (3, 0.4), (5, 0.0), (5, 0.2), (5, 0.4), (8, 0.2), (8, 0.4)] {
        let draw = |random: &mut ChaCha8Rng| one(seasons, spread, random);
        let found = replicates(runs, 20_261_130, 0, &Control::new(), draw, Figures::plus).unwrap();
        let mean =
            |what: &'static str, of: &'static str| found.mean(what, 0, runs as f64) / found.mean(of, 0, runs as f64);
        let (average, new) = (mean("average", "pooled"), mean("new", "spoken of"));
        println!(
            "| {seasons} | {spread} | {:.1} | {:.1} | {:.0} % | {:+.3} |",
            100.0 * average,
            100.0 * new,
            100.0 * mean("entering", "pooled"),
            mean("too low or high", "pooled")
        );
        assert!(average > 0.92 - slack && new > 0.92 - slack, "{seasons} {spread}: {average} {new}");
    }
}
