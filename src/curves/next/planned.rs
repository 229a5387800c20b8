//! The trays of the next trial for each fitted curve.

use super::design::{Around, Plan, design};
use super::numbers::{Criterion, NextCurve, NextOptions, NextStrengths};
use crate::control::Control;
use crate::curves::find::{Fits, Withheld};
use crate::curves::fit::Counts;
use crate::curves::input::{CurveGroup, CurveInput};
use crate::curves::shape::ShapeChoice;
use crate::error::{CountError, Result};

/// Strengths that a curve needs where its shape is not known beforehand, as far as trays and `strengths` allow.
const FOR_A_CURVE: usize = 4;

/// Most trays that can be placed at once.
const MOST_TRAYS: u64 = 400;

impl NextOptions {
    pub(super) fn check(&self) -> Result<()> {
        let range = |name, value: u64, low: u64, high: u64| {
            let fine = (low..=high).contains(&value);
            let error = CountError::OutOfRange { name, value: value as f64, low: low as f64, high: high as f64 };
            if fine { Ok(()) } else { Err(crate::Error::from(error)) }
        };
        range("trays", self.trays.unwrap_or(1), 1, MOST_TRAYS)?;
        range("cuttings", self.cuttings.unwrap_or(1), 1, 100_000)?;
        range("strengths", self.strengths, 2, 20)
    }
}

/// The trays of the next trial for each curve.
pub(super) fn planned(fits: &Fits, options: &NextOptions, control: &Control) -> Result<NextStrengths> {
    let input = fits.input();
    let mut curves = Vec::with_capacity(fits.ready().curves.len());
    for ((counts, curve, group), best) in fits.each().zip(fits.placed(control)?) {
        let (located, withheld) = (best.located, curve.withheld(best.located));
        let trays = options.trays.unwrap_or_else(|| counts.units().min(MOST_TRAYS));
        let size = counts.cuttings() as f64 / counts.units() as f64;
        let cuttings = options.cuttings.map_or(size, |cuttings| cuttings as f64);
        // A shape asked for by name is known beforehand: as many strengths as it has parameters tell it.
        let own = curve.members.iter().map(|member| member.fitted.form.shape.parameters()).min();
        let least =
            if input.options.shape == ShapeChoice::Auto { FOR_A_CURVE } else { own.unwrap_or(2).min(FOR_A_CURVE) };
        let plan = Plan { trays, cuttings, most_strengths: options.strengths as usize, least_strengths: least };
        let strength = &best.strength;
        let most = deadly(input, group, counts).unwrap_or(f64::INFINITY);
        let around = Around { low: strength.low, high: strength.high, open_high: strength.open_high, most };
        let mut designs = Vec::new();
        // A curve that its strengths contradict has no best to narrow.
        let best = (withheld != Some(Withheld::NoCurveFits)).then_some(Criterion::BestStrength);
        for criterion in best.into_iter().chain([Criterion::WholeCurve]) {
            designs.extend(design(curve, counts, (&plan, around), criterion, control)?);
        }
        let levels = group.levels.clone();
        curves.push(NextCurve {
            levels,
            name: group.name(&input.options.within),
            n_units: trays,
            cuttings,
            located,
            withheld,
            designs,
        });
    }
    let within = input.options.within.clone();
    Ok(NextStrengths { curves, unit: input.unit.clone(), within, called: input.called.clone() })
}

/// The lowest tested strength at which deaths are known to have risen along this curve: nothing above is worth a tray.
fn deadly(input: &CurveInput, group: &CurveGroup, counts: &Counts) -> Option<f64> {
    let stay = input.stay_below(&group.levels)?;
    counts.strengths.iter().copied().find(|strength| *strength >= stay.high)
}
