//! Single drawn trials, and the leading P values of many: what a plan rests on, to look at.

use serde::{Deserialize, Serialize};

use super::kernel::{Kernel, Wanted};
use super::options::PlanOptions;
use crate::control::Control;
use crate::error::{PlanError, Result};
use crate::math::rng::{beta_binomial, deviate, stream};
use crate::simulate::{DrawnTrial, replicates, shifted};

/// The leading P value of every drawn trial; 1 where a trial has none. Trial `i` is the one that [`draw_trial`] gives.
///
/// # Errors
/// As [`power`](super::power()).
///
/// ```
/// use rootling::prelude::*;
/// use rootling::plan::{PlanOptions, p_values};
/// let options = PlanOptions { draws: 500, correlation: vec![0.05], ..PlanOptions::default() };
/// let found = p_values(&options, &Control::new())?;
/// let alarms = found.iter().filter(|p| **p <= 0.05).count();
/// assert!(found.len() == 500 && alarms < 45);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn p_values(options: &PlanOptions, control: &Control) -> Result<Vec<f64>> {
    let (plan, asked) = (options.one(), options.asked()?);
    let kernel = Kernel::new(&plan, &asked, Wanted::default())?;
    replicates(
        options.draws,
        options.seed,
        0,
        control,
        |random| Ok(kernel.one(random, control)?.p.unwrap_or(1.0)),
        |all: &mut Vec<f64>, one| all.push(one),
    )
}

/// One of the trials that a plan is judged by, counted from 0.
///
/// # Errors
/// What cannot be planned.
///
/// ```
/// use rootling::plan::{PlanOptions, draw_trial};
/// let trial = draw_trial(&PlanOptions { correlation: vec![0.05], ..PlanOptions::default() }, 3)?;
/// assert_eq!(trial.units().len(), 16);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn draw_trial(options: &PlanOptions, replicate: u64) -> Result<DrawnTrial> {
    let (plan, asked) = (options.one(), options.asked()?);
    let kernel = Kernel::new(&plan, &asked, Wanted::default())?;
    let drawn = kernel.drawn(&mut stream(options.seed, replicate));
    let expected = drawn.arms.iter().zip(&plan.takes).map(|(arm, take)| vec![*take; arm.stuck.len()]).collect();
    Ok(DrawnTrial { arms: drawn.arms, blocks: drawn.places, expected })
}

/// Trays of a layout to draw: what is expected of each, and where it stands.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TraysToDraw {
    /// Take expected of each tray, 0 to 1.
    pub takes: Vec<f64>,
    /// Cuttings of each tray.
    pub stuck: Vec<u64>,
    /// Place of each tray (block or bay); empty without.
    pub places: Vec<u32>,
    /// Standard deviation of places on the log odds.
    pub spread: f64,
    /// Correlation of two cuttings of a tray.
    pub correlation: f64,
}

/// Invented counts for the trays of a layout, beta-binomial around the take expected, moved by the effect of the place.
///
/// # Errors
/// [`PlanError`] for takes, a correlation or lists that cannot be.
///
/// ```
/// use rootling::plan::{TraysToDraw, draw_counts};
/// let trays = TraysToDraw { takes: vec![0.0, 1.0], stuck: vec![20, 10], correlation: 0.05, ..TraysToDraw::default() };
/// assert_eq!(draw_counts(&trays, 1, 0)?, [0, 10]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn draw_counts(trays: &TraysToDraw, seed: u64, replicate: u64) -> Result<Vec<u64>> {
    let expected = trays.takes.len();
    for (name, found) in [("stuck", trays.stuck.len()), ("places", trays.places.len())] {
        if found != expected && !(name == "places" && found == 0) {
            return Err(PlanError::Unmatched { name, found, expected }.into());
        }
    }
    if let Some(value) = trays.takes.iter().find(|take| !(0.0..=1.0).contains(*take)) {
        return Err(PlanError::Take { value: *value }.into());
    }
    if !(0.0..1.0).contains(&trays.correlation) {
        return Err(PlanError::Correlation { value: trays.correlation }.into());
    }
    let random = &mut stream(seed, replicate);
    let count = trays.places.iter().max().map_or(0, |last| *last as usize + 1);
    let effects: Vec<f64> = (0..count).map(|_| trays.spread * deviate(random)).collect();
    let one = |(at, (take, stuck)): (usize, (&f64, &u64))| {
        let effect = trays.places.get(at).and_then(|place| effects.get(*place as usize)).copied().unwrap_or(0.0);
        beta_binomial(random, *stuck, shifted(*take, effect), trays.correlation)
    };
    Ok(trays.takes.iter().zip(&trays.stuck).enumerate().map(one).collect())
}
