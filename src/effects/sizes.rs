//! How large an effect is in percentage points, and how large it may still be.

use crate::effects::adjusted::rate_error;
use crate::effects::averaging::{Averaged, Averaging, Blend, quantile, settings};
use crate::effects::contrasts::{Judge, Profile, Scale};
use crate::math::linalg::add_scaled;
use crate::models::{Model, Stratum, Value};

/// Weights on averaged rates, by their place.
type Parts = Vec<(f64, usize)>;

/// Differences whose limits are searched for, those that may reach furthest first.
const SEARCHED: usize = 4;
/// Limits by the delta method that fall this far short of the furthest found are not searched for.
const SHORT: f64 = 0.9;
/// Within this share of its reach from 0 a difference may reach further on the other side.
const NEAR_ZERO: f64 = 0.25;

/// Largest difference between the settings of an effect, and largest limit of a difference, in percentage points. The limits are those
/// of contrasts, one at a time.
pub(super) fn sizes(model: &Model, judge: &Judge<'_>, variables: &[usize], effect: &str) -> (Option<f64>, Option<f64>) {
    let ready = judge.ready();
    let averaging = Averaging::equal(ready);
    let mut blends = Vec::new();
    let differences = changes(judge, &averaging, (variables, &[]), &mut blends);
    let Some(differences) = differences.filter(|all| !all.is_empty()) else { return (None, None) };
    let rates: Vec<Averaged> = blends.iter().map(|blend| judge.rate(blend)).collect();
    let error = match model.strata.of(effect) {
        None if variables.len() == 1 => rate_error(model, effect, None),
        known => known,
    };
    let told: Vec<Averaged> = differences.iter().map(|parts| sum(parts, &rates)).collect();
    let largest = told.iter().map(|one| one.rate.abs()).fold(0.0, f64::max);
    let beyond = error.map(|error| furthest(judge, &differences, &told, (&blends, error, model.spec.level)));
    (Some(100.0 * largest), beyond.map(|beyond| 100.0 * beyond))
}

fn sum(parts: &Parts, rates: &[Averaged]) -> Averaged {
    let mut out = Averaged { rate: 0.0, gradient: Vec::new() };
    for (weight, rate) in parts.iter().filter_map(|(weight, place)| Some((weight, rates.get(*place)?))) {
        out.rate += weight * rate.rate;
        out.gradient.resize(rate.gradient.len(), 0.0);
        add_scaled(&mut out.gradient, *weight, &rate.gradient);
    }
    out
}

/// The furthest limit of any difference, either way.
fn furthest(
    judge: &Judge<'_>,
    differences: &[Parts],
    told: &[Averaged],
    (blends, error, level): (&[Blend], Stratum, f64),
) -> f64 {
    let ready = judge.ready();
    let own = |one: &Averaged| ready.error_of(&one.gradient, error).unwrap_or(error);
    let reach = |parts: &Parts, one: &Averaged| {
        let spread = ready.spread(&one.gradient, own(one));
        let far = one.rate.abs() + spread.map_or(0.0, |spread| quantile(spread.error, level) * spread.std_error);
        far.min(utmost(parts))
    };
    let mut order: Vec<(f64, &Parts, &Averaged)> =
        differences.iter().zip(told).map(|(parts, one)| (reach(parts, one), parts, one)).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut most = 0.0_f64;
    for (reach, parts, one) in order.into_iter().take(SEARCHED) {
        if reach < SHORT * most {
            break;
        }
        let own = own(one);
        let parts = parts.iter().filter_map(|(weight, place)| Some((*weight, blends.get(*place)?))).collect();
        let Some(profile) = Profile::new(judge, judge.goal(parts, Scale::Points), own.dispersion) else {
            most = most.max(reach);
            continue;
        };
        let critical = quantile(profile.error(own), level);
        let limit = |direction: f64| profile.limit(critical, direction).abs();
        let both = one.rate.abs() < NEAR_ZERO * reach;
        let far = limit(if one.rate < 0.0 { -1.0 } else { 1.0 });
        let far = if both { far.max(limit(if one.rate < 0.0 { 1.0 } else { -1.0 })) } else { far };
        most = most.max(if far.is_nan() { reach } else { far });
    }
    most
}

/// The largest such difference that rates can have: 1 for a difference of rates, 2 for a difference of two.
fn utmost(parts: &Parts) -> f64 {
    let all = |sign: f64| parts.iter().map(|(weight, _)| (sign * weight).max(0.0)).sum::<f64>();
    all(1.0).max(all(-1.0))
}

/// Differences between the settings of all variables: of rates for one, of such differences for two, and so on. None when a rate
/// cannot be estimated.
fn changes(
    judge: &Judge<'_>,
    averaging: &Averaging,
    (variables, held): (&[usize], &[(usize, Value)]),
    blends: &mut Vec<Blend>,
) -> Option<Vec<Parts>> {
    let Some((last, rest)) = variables.split_last() else {
        blends.push(averaging.blend(judge.ready(), held)?);
        return Some(vec![vec![(1.0, blends.len() - 1)]]);
    };
    let described = judge.ready().frame.variables.get(*last)?;
    let mut rows = Vec::new();
    for value in settings(described) {
        rows.push(changes(judge, averaging, (rest, &[held, &[(*last, value)]].concat()), blends)?);
    }
    let width = rows.iter().map(Vec::len).min().unwrap_or(0);
    let column = |k: usize| rows.iter().filter_map(|row| row.get(k)).collect::<Vec<_>>();
    Some((0..width).flat_map(|k| pairs(&column(k))).collect())
}

fn pairs(all: &[&Parts]) -> Vec<Parts> {
    let less = |a: &Parts, b: &Parts| a.iter().copied().chain(b.iter().map(|(w, place)| (-w, *place))).collect();
    let later = |(index, a): (usize, &&Parts)| all.iter().skip(index + 1).map(|b| less(a, b)).collect::<Vec<Parts>>();
    all.iter().enumerate().flat_map(later).collect()
}
