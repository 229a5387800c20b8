//! Effect tests and take rates of models whose trays follow a law, beside the dispersion factor that is the default.
//!
//! Three treatments of the same take; trays are beta-binomial, so the random intercept is a law near the truth and not it.

use rootling::effects::RateOptions;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::simulate::{TrayDesign, TraySizes};

use crate::summary::{Figures, percent};
use crate::{full, run};

const LAWS: [(TrayMode, &str); 3] =
    [(TrayMode::Dispersion, "dispersion"), (TrayMode::BetaBinomial, "beta-binomial"), (TrayMode::Random, "random")];

fn designs() -> Vec<TrayDesign> {
    let grid = [(3, 0.05, 0.5), (4, 0.05, 0.5), (4, 0.15, 0.3), (6, 0.0, 0.5), (6, 0.1, 0.8), (12, 0.1, 0.5)];
    let design = |(trays, icc, take): (usize, f64, f64)| TrayDesign {
        takes: vec![take; 3],
        trays,
        cuttings: 20,
        sizes: TraySizes::Equal,
        icc,
        blocks: None,
    };
    let kept = if full().is_some() { &grid[..] } else { &grid[1..3] };
    kept.iter().copied().map(design).collect()
}

fn one_trial(design: &TrayDesign, random: &mut rng::ChaCha8Rng) -> Figures {
    let units = design.draw(random).units();
    let mut figures = Figures::default();
    for (at, (trays, _)) in LAWS.into_iter().enumerate() {
        let mut spec = ModelSpec::of(&["strength"]);
        spec.trays = trays;
        let fitted = Model::fit(&units, &spec).unwrap();
        let tests = fitted.what_matters(None).unwrap();
        let rates = fitted.adjusted_rates("strength", &RateOptions::default()).unwrap();
        let p_value = tests.numbers.effects[0].p.unwrap();
        figures.add("false alarm", at, f64::from(u8::from(p_value <= 0.05)));
        let rate = &rates.numbers.rates[0];
        let covered = rate.low.unwrap() <= design.takes[0] && design.takes[0] <= rate.high.unwrap();
        figures.add("coverage", at, f64::from(u8::from(covered)));
    }
    figures
}

#[test]
fn laws_of_trays_stay_in_their_bounds() {
    let results = run(designs(), full().unwrap_or(120), one_trial);
    println!(
        "\n### Laws of trays\n\n| trays enter as | false alarms, mean | highest | coverage of a rate, mean | lowest |\n|---|---|---|---|---|"
    );
    for (at, (_, name)) in LAWS.iter().enumerate() {
        let alarm = results.of("false alarm", at, |_| true).unwrap();
        let held = results.of("coverage", at, |_| true).unwrap();
        let cells = [alarm.mean, alarm.high, held.mean, held.low].map(|value| percent(Some(value)));
        println!("| {name} | {} |", cells.join(" | "));
        // 240 trials leave a standard error of 1.4 points on the fast mean. The laws are no default.
        assert!(alarm.mean <= 0.06 && held.mean >= 0.90, "{name}: {alarm:?}, {held:?}");
    }
}
