//! The pairs that are compared, and their P values together.

use super::numbers::{TimesCompared, TimesOptions, TimesPair};
use super::sides::Sides;
use crate::control::Control;
use crate::effects::{Adjustment, adjusted_p};
use crate::error::{CountError, Result, StepsError};
use crate::estimate::check_level;
use crate::steps::time::held::Visits;

/// Most ways to deal trays that are drawn.
const MOST: u64 = 1_000_000_000;

/// Compares two levels, or all with one.
pub(super) fn asked(
    visits: &Visits,
    treatment: &str,
    options: &TimesOptions,
    control: &Control,
) -> Result<TimesCompared> {
    check_level(options.confidence)?;
    if !(1..=MOST).contains(&options.draws) {
        let value = options.draws as f64;
        return Err(CountError::OutOfRange { name: "draws", value, low: 1.0, high: MOST as f64 }.into());
    }
    let at = visits.treatment(treatment)?;
    let parts = visits.in_parts();
    let visits = parts.as_ref().unwrap_or(visits);
    let mut pairs: Vec<TimesPair> = Vec::new();
    for [first, second] in wanted(visits, treatment, at, options)? {
        let sides = Sides::of(visits, at, [&first, &second])?;
        pairs.push(sides.compared([&first, &second], options, control)?);
    }
    let together = |of: &dyn Fn(&TimesPair) -> f64| {
        adjusted_p(&pairs.iter().map(of).collect::<Vec<_>>(), Adjustment::Holm, control)
    };
    let (shares, paces) = (together(&|pair| pair.p)?, together(&|pair| pair.pace.p)?);
    for ((pair, share), pace) in pairs.iter_mut().zip(shares).zip(paces) {
        (pair.p_adjusted, pair.pace.p_adjusted) = (share, pace);
    }
    Ok(TimesCompared {
        treatment: treatment.to_owned(),
        event: options.event,
        trays: visits.columns().trays,
        confidence: options.confidence,
        pairs,
    })
}

/// The pairs of levels: the one that is named, or all others against one.
fn wanted(visits: &Visits, treatment: &str, at: usize, options: &TimesOptions) -> Result<Vec<[String; 2]>> {
    let levels = visits.levels(at);
    if levels.len() < 2 {
        return Err(StepsError::OneLevelOverTime { treatment: treatment.to_owned() }.into());
    }
    match (&options.first, &options.second) {
        (Some(first), Some(second)) => {
            let pair = [visits.level(at, first)?, visits.level(at, second)?];
            if first == second {
                return Err(StepsError::LevelAgainstItself { level: first.clone() }.into());
            }
            Ok(vec![pair])
        }
        (None, None) => {
            let against = match &options.against {
                Some(level) => visits.level(at, level)?,
                None => levels.first().cloned().unwrap_or_default(),
            };
            let others = levels.iter().filter(|level| **level != against);
            Ok(others.map(|level| [against.clone(), level.clone()]).collect())
        }
        _ => Err(StepsError::HalfAPair.into()),
    }
}
