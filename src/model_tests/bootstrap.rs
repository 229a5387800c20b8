//! The test of an effect by parametric bootstrap.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::bootstrap_words;
use super::numbers::BootstrapTest;
use super::refit::Setup;
use crate::answer::Answer;
use crate::control::Control;
use crate::effects::what_matters;
use crate::error::{ChoiceError, CountError, Error, ModelError, Result};
use crate::math::rng::stream;
use crate::models::{Model, TrayMode, is_robust, split_plot};

/// How to draw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BootstrapOptions {
    /// Trials drawn without the effect, 99 to 1,000,000.
    pub draws: u64,
    /// Seed.
    pub seed: u64,
}

impl Default for BootstrapOptions {
    fn default() -> Self {
        Self { draws: 999, seed: 1 }
    }
}

/// What [`Model::bootstrap_test`] tells.
pub(super) fn bootstrap_test(
    model: &Model,
    effect: &str,
    options: &BootstrapOptions,
    control: &Control,
) -> Result<Answer<BootstrapTest>> {
    let BootstrapOptions { draws, seed } = *options;
    if !(99..=1_000_000).contains(&draws) {
        return Err(CountError::OutOfRange { name: "draws", value: draws as f64, low: 99.0, high: 1e6 }.into());
    }
    if model.spec.weights.is_some() {
        return Err(none(
            effect,
            "prior weights say nothing of how counts could be drawn",
            "fit the model without weights",
        ));
    }
    if is_robust(model) {
        let reason = "a robust covariance is no law from which counts could be drawn";
        return Err(none(effect, reason, "fit the model with trays=\"beta-binomial\" or trays=\"random\""));
    }
    let mut frame = model.frame()?;
    let mut term = check(model, &frame, effect)?;
    // What varies within whole plots is compared within them, as in the tests of effects.
    let seen =
        model.strata.whole_plots.as_ref().is_some_and(|whole| whole.error.is_some_and(|error| error.df.is_some()));
    if let Some((with, _)) = split_plot(&frame, &model.units).filter(|_| seen && by_f(model)) {
        (frame, term) = (with, term + 1);
    }
    let Some(setup) = Setup::new(model, &frame, term, control)? else {
        return Err(none(effect, "it adds no coefficient to the other effects", "leave it out of the model"));
    };
    let observed = setup.observed()?;
    let null = setup.null()?;
    let slack = 1e-9 * (1.0 + observed);
    let one = |draw: u64| -> Result<(u64, u64)> {
        control.step()?;
        let counts = setup.draw(&null, &mut stream(seed, draw));
        Ok(match setup.statistic(&counts) {
            Ok(statistic) => (u64::from(statistic >= observed - slack), 0),
            Err(Error::Interrupted) => return Err(Error::Interrupted),
            // A drawn trial that cannot be fitted speaks against the effect, never for it.
            Err(_) => (1, 1),
        })
    };
    let add = |a: (u64, u64), b: (u64, u64)| Ok((a.0 + b.0, a.1 + b.1));
    let (exceeded, failed) = (0..draws).into_par_iter().map(one).try_reduce(|| (0, 0), add)?;
    let p = (1 + exceeded) as f64 / (draws + 1) as f64;
    let tests = what_matters(model, None)?.numbers.effects;
    let figures = BootstrapTest {
        effect: effect.to_owned(),
        test: if by_f(model) { "F" } else { "likelihood ratio" }.to_owned(),
        statistic: observed,
        df: setup.df(),
        p,
        monte_carlo_error: (p * (1.0 - p) / draws as f64).sqrt(),
        draws,
        exceeded,
        failed,
        approximate_p: tests.iter().find(|test| test.effect == effect).and_then(|test| test.p),
        seed,
    };
    Ok(bootstrap_words::answer(model, figures))
}

/// Trays set the error of the statistic and are no part of a likelihood.
fn by_f(model: &Model) -> bool {
    matches!(model.trays, TrayMode::Dispersion | TrayMode::Effective)
}

fn none(effect: &str, reason: &str, try_next: &str) -> crate::Error {
    ModelError::NoBootstrap { effect: effect.to_owned(), reason: reason.to_owned(), try_next: try_next.to_owned() }
        .into()
}

/// The place of the effect among the terms, when it can be drawn without and tested.
fn check(model: &Model, frame: &crate::models::Frame, effect: &str) -> Result<usize> {
    let asked: Vec<&str> = frame.terms.iter().filter(|term| term.asked).map(|term| term.name.as_str()).collect();
    let place = frame.terms.iter().position(|term| term.asked && term.name == effect);
    let Some(place) = place else { return Err(ChoiceError::new("effect of the model", effect, &asked).into()) };
    let whole = model.strata.whole_plots.as_ref().filter(|_| model.strata.on_whole_plots(effect));
    let Some(whole) = whole else { return Ok(place) };
    if whole.error.is_none() {
        let reason = format!("nothing in this model tells it apart from {}", whole.name);
        return Err(none(effect, &reason, "repeat it in other places or runs"));
    }
    if by_f(model) {
        let reason = format!("a dispersion is no law from which {} could be drawn", whole.name);
        return Err(none(effect, &reason, "fit the model with trays=\"random\""));
    }
    Ok(place)
}
