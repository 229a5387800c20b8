//! The strengths to test next: where more trays would narrow the best strength, or the whole curve.

use super::numbers::{Criterion, NextDesign, NextStrength, Why};
use crate::control::Control;
use crate::curves::fit::{Counts, Curve, Member};
use crate::curves::shape::{EDGE, MIXED, best};
use crate::error::Result;
use crate::math::dense::solve_rows;

/// What there is to plan with.
pub(super) struct Plan {
    /// Trays to place.
    pub(super) trays: u64,
    /// Cuttings in each.
    pub(super) cuttings: f64,
    /// Most strengths to use.
    pub(super) most_strengths: usize,
    /// Least strengths: fewer make no curve.
    pub(super) least_strengths: usize,
}

/// Where the best strength may lie.
#[derive(Debug, Clone, Copy)]
pub(super) struct Around {
    pub(super) low: f64,
    pub(super) high: f64,
    /// True where it may lie above all that was tested.
    pub(super) open_high: bool,
    /// Highest strength that is worth a tray.
    pub(super) most: f64,
}

impl Around {
    /// Those of the strengths that are worth a tray, where these are enough.
    fn worth(&self, mut places: Vec<f64>, plan: &Plan) -> Vec<f64> {
        if places.iter().filter(|place| **place <= self.most).count() >= plan.least_strengths {
            places.retain(|place| *place <= self.most);
        }
        places
    }

    fn why(&self, strength: f64, highest: f64) -> Why {
        match strength {
            d if d <= 0.0 => Why::Control,
            d if d > highest => Why::Beyond,
            d if d < self.low => Why::Below,
            d if d > self.high => Why::Above,
            _ => Why::Near,
        }
    }

    /// Trays that are missing where the best may lie and above it: a design for one shape may leave both to the shape.
    fn missing(&self, design: &[(f64, f64)], places: &[f64], share: f64) -> f64 {
        let trays = |of: &dyn Fn(f64) -> bool| {
            let possible = places.iter().any(|place| of(*place));
            let there: f64 = design.iter().filter(|(place, _)| of(*place)).map(|(_, trays)| trays).sum();
            if possible { (share - there).max(0.0) } else { 0.0 }
        };
        trays(&|d| d > 0.0 && d >= self.low && d <= self.high) + trays(&|d| d > self.high)
    }
}

/// Shapes with less than this share have no say in where to test.
const NEGLIGIBLE: f64 = 0.02;

/// One shape with what is known of it: share, information, direction of the best strength.
struct Known<'a> {
    member: &'a Member,
    weight: f64,
    free: Vec<usize>,
    /// Information of the trial so far, rows after each other.
    so_far: Vec<f64>,
    /// Slope of the best strength's place by the free coordinates; none for a shape without a top of its own.
    towards: Option<Vec<f64>>,
}

impl<'a> Known<'a> {
    fn new(curve: &Curve, member: &'a Member, weight: f64) -> Self {
        let fitted = &member.fitted;
        let free: Vec<usize> = fitted
            .region
            .free
            .iter()
            .copied()
            .filter(|j| *j < fitted.own().len() && !fitted.at_end.contains(j))
            .collect();
        let top = fitted.form.shape.location().filter(|_| fitted.form.shape.has_top()).map(|(j, _)| j);
        let place = top.filter(|j| free.contains(j));
        let towards =
            place.map(|place| free.iter().map(|j| if *j == place { stretch(curve, member) } else { 0.0 }).collect());
        let mut known = Self { member, weight, so_far: vec![0.0; free.len() * free.len()], free, towards };
        let mut so_far = known.so_far.clone();
        for level in &curve.data.levels {
            known.add(curve, level.strength, level.stuck, &mut so_far);
        }
        known.so_far = so_far;
        known
    }

    /// Adds the information of `stuck` effective cuttings at a strength.
    fn add(&self, curve: &Curve, strength: f64, stuck: f64, information: &mut [f64]) {
        let fitted = &self.member.fitted;
        let here = fitted.form.at(fitted.own(), curve.data.axis.place(strength));
        let p = here.mean.clamp(EDGE, 1.0 - EDGE).clamp(1e-6, 1.0 - 1e-6);
        let weight = stuck / (p * (1.0 - p));
        let slope = |j: &usize| here.slopes.get(*j).copied().unwrap_or(0.0);
        let pairs = self.free.iter().flat_map(|i| self.free.iter().map(move |j| (i, j)));
        for (entry, (i, j)) in information.iter_mut().zip(pairs) {
            *entry += weight * slope(i) * slope(j);
        }
    }

    /// Variance of the place of the best strength; infinite where it cannot be told.
    fn variance(&self, information: &[f64]) -> Option<f64> {
        let towards = self.towards.as_ref()?;
        let (mut matrix, mut solved) = (information.to_vec(), towards.clone());
        if !solve_rows(&mut matrix, &mut solved) {
            return Some(f64::INFINITY);
        }
        Some(towards.iter().zip(&solved).map(|(a, b)| a * b).sum())
    }

    /// Log of the determinant per coordinate.
    fn ln_determinant(&self, information: &[f64]) -> f64 {
        let size = self.free.len();
        let (mut matrix, mut unused) = (information.to_vec(), vec![0.0; size]);
        if size == 0 || !solve_rows(&mut matrix, &mut unused) {
            return if size == 0 { 0.0 } else { -1e3 };
        }
        let diagonal = matrix.iter().step_by(size + 1);
        diagonal.map(|x| 2.0 * x.ln()).sum::<f64>() / size as f64
    }
}

/// By how much the place on the base axis moves with the coordinate of the top.
fn stretch(curve: &Curve, member: &Member) -> f64 {
    let axis = &curve.data.axis;
    let fitted = &member.fitted;
    let at = |theta: &[f64]| axis.place(best(fitted.form, theta, axis)).t;
    let Some((j, _)) = fitted.form.shape.location() else { return 1.0 };
    let moved = |by: f64| {
        let mut theta = fitted.own().to_vec();
        if let Some(x) = theta.get_mut(j) {
            *x += by;
        }
        at(&theta)
    };
    let step = 1e-4;
    let slope = (moved(step) - moved(-step)) / (2.0 * step);
    if slope > 0.0 { slope } else { 1.0 }
}

/// Lower is better.
fn score(known: &[Known<'_>], information: &[Vec<f64>], criterion: Criterion) -> f64 {
    let each = known.iter().zip(information);
    match criterion {
        Criterion::BestStrength => {
            each.filter_map(|(one, information)| one.variance(information).map(|v| one.weight * v.min(1e6))).sum()
        }
        Criterion::WholeCurve => each.map(|(one, information)| -one.weight * one.ln_determinant(information)).sum(),
    }
}

/// Strengths nearer to each other than this, as a factor, are one strength to mix: 1000 and 1200 are, 2000 and 2500 are not.
const APART: f64 = 1.24;

/// Strengths that can be tested: the tested ones and round ones between them that can be mixed apart; up to half as much again where the best may
/// lie above.
fn candidates(curve: &Curve, open_high: bool) -> Vec<f64> {
    let axis = &curve.data.axis;
    let mut list: Vec<f64> = curve.data.levels.iter().map(|level| level.strength).collect();
    let most = if open_high { 1.5 * axis.high } else { axis.high };
    let least = list.iter().copied().filter(|d| *d > 0.0).fold(axis.high, f64::min) / 8.0;
    let apart = |a: f64, b: f64| a <= 0.0 || b <= 0.0 || a.max(b) / a.min(b) >= APART;
    let (first, last) = (least.log10().floor() as i32, most.log10().ceil() as i32);
    for power in first..=last {
        for digits in MIXED {
            let strength = digits * 10.0_f64.powi(power);
            let inside = strength >= axis.low && strength >= least && strength <= most * (1.0 + 1e-9);
            if inside && list.iter().all(|known| apart(*known, strength)) {
                list.push(strength);
            }
        }
    }
    list.sort_unstable_by(f64::total_cmp);
    list
}

/// Takes below this share of the best are too far away to tell of its place without trusting one shape.
const NEAR_THE_BEST: f64 = 2.0 / 3.0;

/// The strengths at which the curve takes nearly as much as at its best, with one above its upper limit and as many as are to be used.
///
/// For one shape that is known strengths far out, where hardly anything roots, tell most of its top. Shapes are not known: trials placed so were
/// simulated to leave the best strength less sure than the old strengths again do (`tests/calibration/curve_places.md`).
fn near_the_best(curve: &Curve, places: Vec<f64>, (around, plan): (&Around, &Plan)) -> Vec<f64> {
    let members = curve.counting();
    let take = |strength: f64| -> f64 {
        members.iter().map(|(member, share)| share * member.fitted.rate(&curve.data, strength)).sum()
    };
    let mut rated: Vec<(f64, f64)> = places.into_iter().map(|place| (place, take(place))).collect();
    rated.sort_by(|a, b| b.1.total_cmp(&a.1));
    let least = NEAR_THE_BEST * rated.first().map_or(0.0, |one| one.1);
    let above = rated.iter().map(|one| one.0).filter(|place| *place > around.high).fold(f64::INFINITY, f64::min);
    let kept = |(at, one): (usize, &(f64, f64))| {
        let wanted = at < plan.least_strengths || one.1 >= least;
        let beyond = around.open_high && one.0 > curve.data.axis.high;
        (wanted || beyond || one.0.total_cmp(&above).is_eq()).then_some(one.0)
    };
    let mut near: Vec<f64> = rated.iter().enumerate().filter_map(kept).collect();
    near.sort_by(f64::total_cmp);
    near
}

/// Where the best may lie, and above it, stands at least one tray in so many.
const LEAST_PART: f64 = 6.0;

/// What a tray that is missing there counts: more than any criterion.
const MISSED: f64 = 1e9;

/// Places trays one by one where they help most, then moves them while that helps.
pub(super) fn design(
    curve: &Curve,
    counts: &Counts,
    (plan, around): (&Plan, Around),
    criterion: Criterion,
    control: &Control,
) -> Result<Option<NextDesign>> {
    let members = curve.counting();
    let heavy = members.iter().filter(|(_, weight)| *weight >= NEGLIGIBLE);
    let known: Vec<Known<'_>> = heavy.map(|(member, weight)| Known::new(curve, member, *weight)).collect();
    let has_top = known.iter().any(|one| one.towards.is_some());
    if criterion == Criterion::BestStrength && !has_top {
        return Ok(None);
    }
    // Only the search for the best strength goes beyond the tested range.
    let for_best = criterion == Criterion::BestStrength;
    let places = around.worth(candidates(curve, around.open_high && for_best), plan);
    let places = if for_best { near_the_best(curve, places, (&around, plan)) } else { places };
    let share = (plan.trays as f64 / LEAST_PART).floor().max(1.0);
    let tray = plan.cuttings / counts.effect_of(plan.cuttings);
    let with = |design: &[(f64, f64)]| -> Vec<Vec<f64>> {
        let mut all: Vec<Vec<f64>> = known.iter().map(|one| one.so_far.clone()).collect();
        for (one, information) in known.iter().zip(&mut all) {
            for (strength, trays) in design {
                one.add(curve, *strength, trays * tray, information);
            }
        }
        all
    };
    let mut chosen: Vec<(f64, f64)> = Vec::new();
    let value = |design: &[(f64, f64)]| {
        let missing = if for_best { around.missing(design, &places, share) } else { 0.0 };
        MISSED * missing + score(&known, &with(design), criterion)
    };
    for _ in 0..plan.trays {
        control.step()?;
        let full = chosen.len() >= plan.most_strengths;
        let usable = places.iter().filter(|place| !full || chosen.iter().any(|(used, _)| used == *place));
        let best = usable
            .map(|place| (value(&with_one(&chosen, *place, 1.0)), *place))
            .fold((f64::INFINITY, f64::NAN), |a, b| if b.0 < a.0 { b } else { a });
        if best.1.is_finite() {
            chosen = with_one(&chosen, best.1, 1.0);
        }
    }
    exchange(&mut chosen, &places, plan, &value, control)?;
    widen(&mut chosen, &places, plan, &value);
    let width = |design: &[(f64, f64)]| {
        let (now, then) = (with(&[]), with(design));
        ratio(&known, &now, &then)
    };
    let trays_now: f64 = counts.units() as f64;
    let share = plan.trays as f64 / trays_now;
    let repeated: Vec<(f64, f64)> =
        counts.strengths.iter().zip(&counts.arms).map(|(d, arm)| (*d, arm.stuck.len() as f64 * share)).collect();
    let strengths = chosen.iter().map(|(strength, trays)| NextStrength {
        strength: *strength,
        n_units: *trays as u64,
        outside: *strength > curve.data.axis.high,
        why: Some(around.why(*strength, curve.data.axis.high)),
    });
    Ok(Some(NextDesign {
        criterion,
        strengths: strengths.collect(),
        width_ratio: width(&chosen),
        width_ratio_repeated: width(&repeated),
    }))
}

/// Mean over the shapes with a top of the root of what is left of the variance.
fn ratio(known: &[Known<'_>], now: &[Vec<f64>], then: &[Vec<f64>]) -> Option<f64> {
    let (mut sum, mut weight) = (0.0, 0.0);
    for ((one, now), then) in known.iter().zip(now).zip(then) {
        if let (Some(now), Some(then)) = (one.variance(now), one.variance(then))
            && now.is_finite()
        {
            sum += one.weight * (then / now).sqrt();
            weight += one.weight;
        }
    }
    (weight > 0.0).then(|| sum / weight)
}

/// A design with trays added (or taken away) at a strength, rising.
fn with_one(design: &[(f64, f64)], place: f64, trays: f64) -> Vec<(f64, f64)> {
    let mut all = design.to_vec();
    match all.iter_mut().find(|(strength, _)| strength.total_cmp(&place).is_eq()) {
        Some(entry) => entry.1 += trays,
        None => all.push((place, trays)),
    }
    all.retain(|(_, trays)| *trays > 0.5);
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}

/// A design of one or two strengths shows no curve: a third takes a fair share of the trays, where that costs least.
fn widen(chosen: &mut Vec<(f64, f64)>, places: &[f64], plan: &Plan, value: &impl Fn(&[(f64, f64)]) -> f64) {
    let share = (plan.trays as f64 / 4.0).round().max(1.0);
    let wanted = plan.least_strengths.min(plan.most_strengths).min(plan.trays as usize).min(places.len());
    while chosen.len() < wanted {
        let free = places.iter().filter(|place| chosen.iter().all(|(used, _)| used.total_cmp(place).is_ne()));
        let with = |place: &f64| {
            let mut design = with_one(chosen, *place, share);
            for _ in 0..share as u64 {
                let most = design.iter().filter(|(used, _)| used.total_cmp(place).is_ne());
                let Some((from, _)) = most.max_by(|a, b| a.1.total_cmp(&b.1)).copied() else { break };
                design = with_one(&design, from, -1.0);
            }
            (value(&design), design)
        };
        let Some((_, design)) = free.map(with).min_by(|a, b| a.0.total_cmp(&b.0)) else { break };
        if design.len() <= chosen.len() {
            break;
        }
        *chosen = design;
    }
}

/// Moves single trays, or all of a strength, to other strengths while that helps.
fn exchange(
    chosen: &mut Vec<(f64, f64)>,
    places: &[f64],
    plan: &Plan,
    value: &impl Fn(&[(f64, f64)]) -> f64,
    control: &Control,
) -> Result<()> {
    const ROUNDS: usize = 20;
    let mut here = value(chosen);
    for _ in 0..ROUNDS {
        control.step()?;
        let mut better: Option<(f64, Vec<(f64, f64)>)> = None;
        let moves = chosen.iter().flat_map(|(from, all)| [(*from, 1.0), (*from, *all)]);
        for (from, trays) in moves {
            let less = with_one(chosen, from, -trays);
            for to in places {
                let moved = with_one(&less, *to, trays);
                let found = value(&moved);
                let least = better.as_ref().map_or(here - 1e-9 * here.abs(), |one| one.0);
                if moved.len() <= plan.most_strengths && found < least {
                    better = Some((found, moved));
                }
            }
        }
        let Some((found, moved)) = better else { break };
        (here, *chosen) = (found, moved);
    }
    Ok(())
}
