//! Limits from drawn trials: the fitted curves give new trays, everything is fitted and averaged anew.

use super::averaged::highest;
use super::best::lowest_averaged;
use super::numbers::Bootstrap;
use crate::control::Control;
use crate::curves::fit::{Counts, Curve, Level, Member, QUICK};
use crate::error::Result;
use crate::math::rng;
use crate::simulate::replicates;

/// How trials are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Drawing {
    pub(crate) draws: u64,
    pub(crate) seed: u64,
    /// First random stream of this curve.
    pub(crate) first: u64,
    pub(crate) confidence: f64,
    pub(crate) share: f64,
}

/// Draws trials from the curve: a shape by its weight, then trays around its rates with their correlation.
pub(crate) fn bootstrap(
    curve: &Curve,
    counts: &Counts,
    drawing: &Drawing,
    control: &Control,
) -> Result<Option<Bootstrap>> {
    if drawing.draws == 0 {
        return Ok(None);
    }
    let members = curve.counting();
    let one = |random: &mut rng::ChaCha8Rng| -> Result<(f64, f64)> {
        let (rates, beside) = drawn_rates(curve, &members, random);
        let again = curve.again(counts.drawn(&rates, (&curve.data, beside), random), QUICK, control)?;
        let own = again.counting();
        let top = highest(&again, &own);
        let take: f64 = own.iter().map(|(member, w)| w * member.fitted.rate(&again.data, top)).sum();
        let adequate = lowest_averaged(&again, &own, drawing.share * take, (0.0, 1.0)).unwrap_or(top);
        control.finish(1);
        Ok((top, adequate))
    };
    let found: Vec<(f64, f64)> =
        replicates(drawing.draws, drawing.seed, drawing.first, control, one, |all: &mut Vec<(f64, f64)>, one| {
            all.push(one);
        })?;
    let (axis, n) = (&curve.data.axis, found.len() as f64);
    let share = |test: &dyn Fn(f64) -> bool| found.iter().filter(|one| test(one.0)).count() as f64 / n;
    let (low, high) = percentiles(found.iter().map(|one| one.0).collect(), drawing.confidence);
    let (adequate_low, adequate_high) = percentiles(found.iter().map(|one| one.1).collect(), drawing.confidence);
    Ok(Some(Bootstrap {
        draws: drawing.draws,
        low,
        high,
        at_lowest: share(&|x| x <= axis.low),
        at_highest: share(&|x| x >= axis.high),
        adequate_low,
        adequate_high,
    }))
}

/// The rates of a shape taken by its share in the averages, and the coordinates beside it.
fn drawn_rates<'a>(
    curve: &Curve,
    members: &[(&'a Member, f64)],
    random: &mut rng::ChaCha8Rng,
) -> (Vec<f64>, &'a [f64]) {
    let mut left = rng::uniform(random);
    let mut chosen = members.first();
    for member in members {
        chosen = Some(member);
        left -= member.1;
        if left < 0.0 {
            break;
        }
    }
    let Some((member, _)) = chosen else { return (vec![0.0; curve.data.levels.len()], &[]) };
    let fitted = &member.fitted;
    let rate = |level: &Level| fitted.form.at(fitted.own(), level.place).mean;
    (curve.data.levels.iter().map(rate).collect(), fitted.beside())
}

/// The limits that cut off half of the rest at either side, with the draws in order.
fn percentiles(mut values: Vec<f64>, level: f64) -> (f64, f64) {
    values.sort_unstable_by(f64::total_cmp);
    let cut = ((values.len() as f64 + 1.0) * 0.5 * (1.0 - level)).floor().max(1.0) as usize;
    let low = values.get(cut - 1).or(values.first()).copied().unwrap_or(f64::NAN);
    let high = values.len().checked_sub(cut).and_then(|at| values.get(at)).copied().unwrap_or(f64::NAN);
    (low, high)
}
