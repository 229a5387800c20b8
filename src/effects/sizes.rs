//! How large an effect is in percentage points, and how large it may still be.

use crate::effects::averaging::{Averaging, Blend, quantile, settings};
use crate::effects::contrasts::{Judge, Profile, Scale};
use crate::effects::judged_by::rate_error;
use crate::effects::many_differences::{Differences, Spreads};
use crate::models::{Model, Stratum};
use crate::trial::Value;

/// Differences whose limits are searched for, those that may reach furthest first.
const SEARCHED: usize = 4;
/// Limits by the delta method that fall this far short of the furthest found are not searched for.
const SHORT: f64 = 0.9;
/// Within this share of its reach from 0 a difference may reach further on the other side.
const NEAR_ZERO: f64 = 0.25;

/// Largest difference between the settings of an effect, and largest limit of a difference, proportions. The limits are those
/// of contrasts, one at a time.
pub(super) fn sizes(model: &Model, judge: &Judge<'_>, variables: &[usize], effect: &str) -> (Option<f64>, Option<f64>) {
    let Some((differences, blends)) = crossed(judge, variables) else { return (None, None) };
    let spreads = Spreads::new(judge, &blends);
    let error = match model.strata.of(effect) {
        None if variables.len() == 1 => rate_error(model, effect, None),
        known => known,
    };
    let largest = (0..differences.len()).map(|at| spreads.value(&differences.parts(at)).abs()).fold(0.0, f64::max);
    let beyond = error.map(|error| furthest(judge, (&differences, &spreads), &blends, (error, model.spec.confidence)));
    (Some(largest), beyond)
}

/// The differences between the settings of all variables and the average at each combination of settings; none when there is a single
/// setting, or where a rate cannot be estimated.
fn crossed(judge: &Judge<'_>, variables: &[usize]) -> Option<(Differences, Vec<Blend>)> {
    let ready = judge.ready();
    let averaging = Averaging::equal(ready).for_levels(ready, variables);
    let described = variables.iter().map(|v| Some((*v, settings(ready.frame.variables.get(*v)?))));
    let described: Vec<(usize, Vec<Value>)> = described.collect::<Option<_>>()?;
    let differences = Differences::new(&described.iter().map(|(_, values)| values.len()).collect::<Vec<_>>());
    if differences.len() == 0 {
        return None;
    }
    let blend = |place: usize| {
        let mut left = place;
        let held: Option<Vec<(usize, Value)>> = described
            .iter()
            .map(|(v, values)| {
                let value = values.get(left % values.len())?;
                left /= values.len();
                Some((*v, *value))
            })
            .collect();
        averaging.blend(ready, &held?)
    };
    let blends = (0..differences.places()).map(blend).collect::<Option<Vec<Blend>>>()?;
    Some((differences, blends))
}

/// The furthest limit of any difference, either way.
fn furthest(
    judge: &Judge<'_>,
    (differences, spreads): (&Differences, &Spreads<'_>),
    blends: &[Blend],
    (error, level): (Stratum, f64),
) -> f64 {
    let mut known = None;
    let mut order: Vec<(f64, usize)> = (0..differences.len())
        .map(|at| (spreads.reach(&differences.parts(at), error, level, &mut known), at))
        .collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut most = 0.0_f64;
    for (reach, at) in order.into_iter().take(SEARCHED) {
        if reach < SHORT * most {
            break;
        }
        let parts = differences.parts(at);
        let (value, own) = (spreads.value(&parts), spreads.error(&parts, error));
        let parts = parts.iter().filter_map(|(weight, place)| Some((*weight, blends.get(*place)?))).collect();
        let Some(profile) = Profile::new(judge, judge.goal(parts, Scale::Points), own.dispersion) else {
            most = most.max(reach);
            continue;
        };
        let critical = quantile(profile.error(own), level);
        let limit = |direction: f64| profile.limit(critical, direction).abs();
        let both = value.abs() < NEAR_ZERO * reach;
        let far = limit(if value < 0.0 { -1.0 } else { 1.0 });
        let far = if both { far.max(limit(if value < 0.0 { 1.0 } else { -1.0 })) } else { far };
        most = most.max(if far.is_nan() { reach } else { far });
    }
    most
}
