//! The effect tests of a model. Those of an association stand in `association.rs`.

use rootling::effects::effect_tests;
use rootling::math::rng;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::SplitPlotDesign;
use rootling::trial::Units;

use crate::designs::Case;
use crate::summary::Figures;

const ALPHA: f64 = 0.05;

/// One trial of `case`.
pub fn one_trial(case: &Case, random: &mut rng::ChaCha8Rng) -> Figures {
    let (null, moved) = (case.equal.draw(random).units(), case.unequal.draw(random).units());
    let mut figures = Figures::default();
    figures.add("false alarm", 0, modelled(&null, &["strength"])[0]);
    figures.add("power", 0, modelled(&moved, &["strength"])[0]);
    figures
}

fn alarm(p_value: Option<f64>) -> f64 {
    f64::from(u8::from(p_value.is_some_and(|p| p <= ALPHA)))
}

/// An alarm per effect. A fit that is refused raises none.
fn modelled(units: &Units, effects: &[&str]) -> Vec<f64> {
    let tests = Model::fit(units, &ModelSpec::of(effects)).and_then(|model| effect_tests(&model));
    match tests {
        Ok(tests) => tests.figures.effects.iter().map(|effect| alarm(effect.p_value)).collect(),
        Err(_) => vec![0.0; effects.len()],
    }
}

/// One split-plot trial without effects.
pub fn one_split_plot(design: &SplitPlotDesign, random: &mut rng::ChaCha8Rng) -> Figures {
    let mut figures = Figures::default();
    for (at, alarm) in modelled(&design.draw(random), &["dark", "strength"]).into_iter().enumerate() {
        figures.add("false alarm", at, alarm);
    }
    figures
}
