//! The effect tests and intervals of a model. Those of an association stand in `association.rs`.

use rootling::effects::RateOptions;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::simulate::{DrawnTrial, SplitPlotDesign, TrayDesign};
use rootling::trial::{Factor, Units};

use crate::designs::Case;
use crate::intervals::inside;
use crate::summary::Figures;

const ALPHA: f64 = 0.05;

/// How trays enter; the first is the default.
pub(crate) const MODES: [(TrayMode, &str); 2] =
    [(TrayMode::Auto, "effective cuttings, score (default)"), (TrayMode::Dispersion, "dispersion, likelihood ratio")];

/// One trial of `case`. Figures in the order of [`MODES`].
pub(crate) fn one_trial(case: &Case, random: &mut rng::ChaCha8Rng) -> Figures {
    let (null, moved) = (case.equal.draw(random).units(), case.unequal.draw(random));
    let mut figures = Figures::default();
    for (at, (trays, _)) in MODES.into_iter().enumerate() {
        figures.add("false alarm", at, modelled(&null, &asked(&["strength"], &[], trays))[0]);
        figures.add("power", at, modelled(&moved.units(), &asked(&["strength"], &[], trays))[0]);
    }
    covered(&moved, case, &mut figures);
    figures
}

pub(crate) fn asked(effects: &[&str], interactions: &[&[&str]], trays: TrayMode) -> ModelSpec {
    let mut spec = ModelSpec::of(effects);
    spec.interactions =
        interactions.iter().map(|parts| parts.iter().map(|part| (*part).to_owned()).collect()).collect();
    spec.trays = trays;
    spec
}

/// Does the first adjusted rate of the default cover, and the odds ratio of the second level against it?
fn covered(trial: &DrawnTrial, case: &Case, figures: &mut Figures) {
    let model = Model::fit(&trial.units(), &asked(&["strength"], &[], TrayMode::Auto)).unwrap();
    let (rates, ratios) =
        (model.adjusted_rates("strength", &RateOptions::default()).unwrap(), model.odds_ratios(0.95).unwrap());
    // Blocks are of one size, so their rates count alike.
    let truth = trial.expected[0].iter().sum::<f64>() / trial.expected[0].len() as f64;
    let rate = &rates.numbers.rates[0];
    let ratio = ratios.numbers.ratios.iter().find(|ratio| ratio.coefficient == "strength 1").unwrap();
    figures.add("rate coverage", 0, inside((rate.low.unwrap(), rate.high.unwrap()), truth));
    let odds = |p: f64| p / (1.0 - p);
    let limits = (ratio.low.unwrap_or(0.0), ratio.high.unwrap_or(f64::INFINITY));
    figures.add("odds ratio coverage", 0, inside(limits, odds(case.unequal.takes[1]) / odds(case.unequal.takes[0])));
}

fn alarm(p_value: Option<f64>) -> f64 {
    f64::from(u8::from(p_value.is_some_and(|p| p <= ALPHA)))
}

/// An alarm per effect and interaction. A fit that is refused raises none.
pub(crate) fn modelled(units: &Units, spec: &ModelSpec) -> Vec<f64> {
    match Model::fit(units, spec).and_then(|model| model.what_matters(None)) {
        Ok(tests) => tests.numbers.effects.iter().map(|effect| alarm(effect.p)).collect(),
        Err(_) => vec![0.0; spec.effects.len() + spec.interactions.len()],
    }
}

/// Two crossed treatments, strength and rootstock.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Factorial {
    /// Trays of every combination; its takes are those of strength (slow) by rootstock (fast).
    pub trays: TrayDesign,
    /// Levels of strength and rootstock.
    pub levels: (usize, usize),
    /// Is there no effect of strength, of rootstock?
    pub without: (bool, bool),
}

impl Factorial {
    /// Effects add up on the log odds, so there never is an interaction.
    pub(crate) fn new(levels: (usize, usize), effects: (f64, f64), trays: TrayDesign) -> Self {
        let base = trays.takes[0];
        let take = |a: usize, b: usize| {
            let odds = base / (1.0 - base) * (a as f64 * effects.0 + b as f64 * effects.1).exp();
            odds / (1.0 + odds)
        };
        let takes = (0..levels.0).flat_map(|a| (0..levels.1).map(move |b| take(a, b))).collect();
        Self { trays: TrayDesign { takes, ..trays }, levels, without: (effects.0 == 0.0, effects.1 == 0.0) }
    }

    fn draw(&self, random: &mut rng::ChaCha8Rng) -> Units {
        let mut units = self.trays.draw(random).units();
        let codes = units.treatments[0].codes.clone();
        let factor = |name: &str, size: usize, code: &dyn Fn(u32) -> u32| Factor {
            name: name.to_owned(),
            levels: (0..size).map(|level| level.to_string()).collect(),
            numbers: None,
            codes: codes.iter().map(|both| code(*both)).collect(),
        };
        let fast = self.levels.1 as u32;
        units.treatments = vec![
            factor("strength", self.levels.0, &|both| both / fast),
            factor("rootstock", self.levels.1, &|both| both % fast),
        ];
        units
    }
}

/// One trial of two treatments: false alarms of what has no effect, power of what has.
pub(crate) fn one_factorial(design: &Factorial, random: &mut rng::ChaCha8Rng) -> Figures {
    let units = design.draw(random);
    let both = ["strength", "rootstock"];
    let mut figures = Figures::default();
    let found = modelled(&units, &asked(&both, &[&both], TrayMode::Auto));
    let additive = modelled(&units, &asked(&both, &[], TrayMode::Auto));
    figures.add("interaction", 0, found[2]);
    for (at, null) in [design.without.0, design.without.1].into_iter().enumerate() {
        let power = ["power of strength", "power of rootstock"][at];
        let name = if null { ["strength", "rootstock"][at] } else { power };
        figures.add(name, 0, found[at]);
        figures.add(name, 1, additive[at]);
    }
    figures
}

/// One split-plot trial without effects: dark, then strength.
pub(crate) fn one_split_plot(design: &SplitPlotDesign, trays: TrayMode, random: &mut rng::ChaCha8Rng) -> Figures {
    let mut figures = Figures::default();
    let spec = asked(&["dark", "strength"], &[], trays);
    for (at, alarm) in modelled(&design.draw(random), &spec).into_iter().enumerate() {
        figures.add("false alarm", at, alarm);
    }
    figures
}
