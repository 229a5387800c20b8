//! The best strength of one curve, how sure it is, and the strengths that do nearly as well.

use rayon::prelude::*;

use super::adequate::{Goal, goal_limits, lowest};
use super::averaged::{highest, not_worse, take};
use super::hull::{Penalty, allowed, hull, within};
use super::numbers::{Best, Located, Placed, StrengthLimits, Wanted};
use super::pairs::{shown_worse, to_tested, without_worse};
use crate::control::Control;
use crate::curves::fit::{Curve, Held, Limits, Member, Spanned};
use crate::curves::shape::{Axis, Shape, best};
use crate::error::Result;

/// The best strengths that one shape allows within a fall of `most`.
pub(super) fn allowed_by(curve: &Curve, member: &Member, most: f64, control: &Control) -> Result<Limits> {
    member.cache.tops(most, || tops_of(curve, member, most, control))
}

fn tops_of(curve: &Curve, member: &Member, most: f64, control: &Control) -> Result<Limits> {
    let (fitted, axis) = (&member.fitted, &curve.data.axis);
    let shape = fitted.form.shape;
    let Some((j, on_x)) = shape.location().filter(|_| shape.has_top()) else {
        // The best lies at one end, or at either where the curve may be flat.
        let level = 2.0 * (fitted.loglik - curve.flat_loglik(control)?) <= most;
        let at_top = shape != Shape::Flat && best(fitted.form, fitted.own(), axis) >= axis.high;
        return Ok(match (level, at_top) {
            (true, _) => (None, None),
            (false, true) => (Some(axis.high), None),
            (false, false) => (None, Some(axis.low)),
        });
    };
    let at = |strength: f64| {
        let place = axis.place(strength);
        let value = if on_x { place.on(fitted.form.on) } else { place.z };
        let ends = fitted.region.low.get(j).zip(fitted.region.high.get(j));
        ends.map_or(value, |(low, high)| value.max(*low).min(*high))
    };
    let back = |value: f64| axis.within(if on_x { axis.strength_on(fitted.form.on, value) } else { value.exp() });
    let estimate = fitted.theta.get(j).copied().unwrap_or(f64::NAN);
    let mut held = Held::new(fitted, &curve.data, j);
    let (low, high) =
        within(|value, care| held.fall(value, care, control), estimate, (at(axis.low), at(axis.high)), most)?;
    Ok((low.map(back), high.map(back)))
}

/// Limits as strengths.
pub(crate) fn as_strengths(value: f64, (low, high): Limits, axis: &Axis) -> StrengthLimits {
    StrengthLimits {
        value,
        low: low.unwrap_or(axis.low).min(value),
        high: high.unwrap_or(axis.high).max(value),
        open_low: low.is_none(),
        open_high: high.is_none(),
    }
}

/// The best strength with limits.
fn best_strength(curve: &Curve, members: &[(&Member, f64)], level: f64, control: &Control) -> Result<StrengthLimits> {
    let axis = &curve.data.axis;
    let each = allowed(curve, members, level, Penalty::Akaike).into_par_iter();
    let each: Vec<Limits> = each.map(|(one, most)| allowed_by(curve, one, most, control)).collect::<Result<_>>()?;
    let value = highest(curve, members);
    let mut strength = as_strengths(value, hull(&each), axis);
    // An estimate at an end of the range never counts as ruled out.
    strength.open_low |= value <= axis.low;
    strength.open_high |= value >= axis.high;
    Ok(strength)
}

/// The lowest strength of the averaged curve that reaches the goal within the given ends of `t`.
pub(super) fn lowest_averaged(curve: &Curve, members: &[(&Member, f64)], wanted: f64, ends: (f64, f64)) -> Option<f64> {
    let rate =
        |strength: f64| members.iter().map(|(member, w)| w * member.fitted.rate(&curve.data, strength)).sum::<f64>();
    lowest(rate, wanted, &curve.data.axis, ends)
}

/// The lowest strength with the wanted share of the best take `top`; without an upper limit where the best itself has none.
pub(super) fn adequate(
    curve: &Curve,
    members: &[(&Member, f64)],
    wanted: &Wanted,
    (top, open_high): (f64, bool),
    control: &Control,
) -> Result<StrengthLimits> {
    let goal = Goal::Share(wanted.share);
    let axis = &curve.data.axis;
    let (low, high) = goal_limits(curve, members, goal, wanted.confidence, control)?;
    let found = (low, high.filter(|_| !open_high));
    let value = lowest_averaged(curve, members, wanted.share * top, (0.0, 1.0)).unwrap_or(axis.high);
    Ok(as_strengths(value, found, axis))
}

/// The best strength alone: what it takes is not looked into, nor which lower strength would do.
pub(super) fn placed(curve: &Curve, wanted: &Wanted, control: &Control) -> Result<Placed> {
    let members = curve.counting();
    let worse = shown_worse(curve, wanted.margin, wanted.confidence)?;
    let strength = to_tested(curve, best_strength(curve, &members, wanted.confidence, control)?, &worse);
    let judged = (wanted.margin, wanted.confidence);
    let (low, high, whole) =
        without_worse(curve, not_worse(curve, &members, judged, strength.value), strength.value, &worse);
    let located = match (strength.open_low, strength.open_high) {
        (false, false) => Located::Inside,
        (false, true) => Located::High,
        (true, false) => Located::Low,
        (true, true) => Located::Nowhere,
    };
    Ok(Placed { strength, located, range: (low.min(strength.value), high.max(strength.value), whole) })
}

/// Everything about the best strength of a curve, without drawn trials.
pub(crate) fn find(curve: &Curve, wanted: &Wanted, placed: &Placed, control: &Control) -> Result<Best> {
    let members = curve.counting();
    let Placed { strength, located, range: (range_low, range_high, range_whole) } = *placed;
    let Spanned { value, low, high } = take(curve, &members, strength.value, wanted.confidence);
    Ok(Best {
        located,
        withheld: curve.withheld(located),
        take: value,
        take_low: low,
        take_high: high,
        range_low,
        range_high,
        range_whole,
        adequate: to_tested(curve, adequate(curve, &members, wanted, (value, strength.open_high), control)?, &[]),
        strength,
        bootstrap: None,
    })
}

#[cfg(test)]
mod tests {
    use super::super::invented;
    use super::*;
    use crate::curves::fit::{Data, Judge, Likelihood, climb, fit_all, starts};
    use crate::curves::shape::Asked;
    use crate::math::regression::Link;
    use crate::math::rng::{binomial, stream};
    use approx::abs_diff_eq;

    /// Twice the fall with a coordinate held, from every start of the grid and from the fits.
    fn fall(curve: &Curve, member: &Member, (j, value): (usize, f64)) -> f64 {
        let fitted = &member.fitted;
        let mut region = fitted.region.clone();
        (region.low[j], region.high[j]) = (value, value);
        region.free.retain(|k| *k != j);
        let mut likelihood = Likelihood::of(&curve.data, fitted.form);
        let spreads = likelihood.spreads(fitted.theta.len());
        // Laws and blocks make searches dear: fewer of the grid.
        let stride = if curve.data.beside.is_some() { 9 } else { 1 };
        let grid = starts(fitted.form, &curve.data).into_iter().step_by(stride);
        let grid = grid.map(|start| [start, fitted.beside().to_vec()].concat());
        let all: Vec<Vec<f64>> = grid.chain([fitted.theta.clone()]).chain(fitted.others.clone()).collect();
        let mut top = |start: &Vec<f64>| {
            climb(&mut likelihood, start, (&region, &spreads), 1e-18, &Control::new()).unwrap().local.value
        };
        2.0 * (fitted.loglik - all.iter().map(&mut top).fold(f64::NEG_INFINITY, f64::max))
    }

    /// Checks every limit of the best strength that a shape of its own has, and tells how many there are. A limit at an end of the tested range is
    /// that of a shape with all it allows beyond: the statistic is at least its quantile there. Exempt are ends of a shape's coordinates.
    fn check(name: &str, curve: &Curve) -> usize {
        let (members, mut checked) = (curve.counting(), 0);
        for (member, most) in allowed(curve, &members, 0.95, Penalty::Akaike) {
            let (fitted, axis) = (&member.fitted, &curve.data.axis);
            let Some((j, on_x)) = fitted.form.shape.location().filter(|_| fitted.form.shape.has_top()) else {
                continue;
            };
            let (low, high) = allowed_by(curve, member, most, &Control::new()).unwrap();
            for strength in [low, high].into_iter().flatten() {
                let place = axis.place(strength);
                let value = if on_x { place.on(fitted.form.on) } else { place.z };
                if value <= fitted.region.low[j] || value >= fitted.region.high[j] {
                    continue;
                }
                let fall = fall(curve, member, (j, value));
                let shape = fitted.form.shape.name();
                if strength <= axis.low || strength >= axis.high {
                    assert!(fall >= most, "{name}, {shape} at the end {strength}: {fall} for {most}");
                    continue;
                }
                assert!(
                    abs_diff_eq!(fall, most, epsilon = 1e-6 * (1.0 + most)),
                    "{name}, {shape} at {strength}: {fall} for {most}"
                );
                checked += 1;
            }
        }
        checked
    }

    /// At each limit of a best strength, also where strengths root all or none and are softened, the statistic maximised anew is what the limit
    /// is held against.
    #[test]
    fn the_statistic_at_every_limit_is_its_quantile() {
        let strengths = [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];
        let takes = [
            [0.0, 0.3, 0.6, 0.7, 0.4, 0.0],
            [0.1, 0.4, 0.7, 0.6, 0.0, 0.0],
            [0.2, 0.5, 1.0, 1.0, 0.5, 0.1],
            [0.15, 0.38, 0.55, 0.72, 0.62, 0.22],
        ];
        let (mut checked, mut softened) = (0, 0);
        for trial in 0..24 {
            let mut draw = stream(17, trial);
            let takes = takes[trial as usize % takes.len()];
            let counts: Vec<(f64, f64, f64)> =
                strengths.iter().zip(takes).map(|(d, p)| (*d, binomial(&mut draw, 90, p) as f64, 90.0)).collect();
            let judge = Judge { df: Some(24.0), n_obs: 30.0, level_variance: 0.0 };
            let curve = fit_all(Data::new(&counts, None), judge, Asked::Auto, Link::Logit, &Control::new()).unwrap();
            softened += usize::from(curve.data.is_softened());
            checked += check(&format!("trial {trial}"), &curve);
        }
        assert!(checked >= 30 && softened >= 10, "{checked} limits, {softened} softened");
    }

    /// The same under laws of the trays, with blocks taken out.
    #[test]
    fn and_so_it_is_under_laws_and_blocks() {
        let checked: usize = invented::curves(4).map(|(name, curve)| check(&name, &curve)).sum();
        assert!(checked >= 40, "{checked}");
    }
}
