//! Where deaths are known to rise beside a strength curve.

use super::numbers::DamageOptions;
use super::threshold::located_damage;
use crate::control::Control;
use crate::curves::input::{CurveInput, CurveOptions, CurveTrays, StayBelow};
use crate::curves::shape::ShapeChoice;
use crate::error::Result;
use crate::trial::{Outcome, Trial};

/// Where deaths rise along each curve of a trial that records them; nothing where they do not, and where it is not located. The rise is that of
/// [`damage_threshold`](crate::curves::damage_threshold) unless asked otherwise, so that both say the same.
pub(crate) fn beside(
    trial: &Trial,
    input: &CurveInput,
    options: &CurveOptions,
    control: &Control,
) -> Result<Vec<Option<StayBelow>>> {
    let Some(dead) = trial.dead().filter(|dead| dead.iter().any(|count| *count > 0)) else { return Ok(Vec::new()) };
    let trays = if options.trays == CurveTrays::Ignore { CurveTrays::Ignore } else { CurveTrays::Auto };
    let curve = CurveOptions { outcome: Outcome::Take, shape: ShapeChoice::Auto, trays, draws: 0, ..options.clone() };
    let asked = DamageOptions { curve, ..DamageOptions::default() };
    let found = located_damage(trial.units(), dead, trial.options().strength.as_ref(), &asked, control);
    control.step()?;
    // Deaths that make no curve leave the curve as it is.
    let Ok(found) = found else { return Ok(Vec::new()) };
    let of = |levels: &Vec<String>| {
        let (_, own) = found.iter().find(|(own, _)| own == levels)?;
        let value = own.value.filter(|_| own.located)?;
        Some(StayBelow { rise: asked.rise, value, low: own.low, high: own.high, from_first: own.from_first })
    };
    let all: Vec<Option<StayBelow>> = input.groups.iter().map(|group| of(&group.levels)).collect();
    Ok(if all.iter().any(Option::is_some) { all } else { Vec::new() })
}
