//! What the strengths' own trays show without any curve: which strengths are worse than the best tested one.

use super::numbers::StrengthLimits;
use crate::curves::fit::{Curve, Spanned};
use crate::error::Result;
use crate::math::search::brent;
use crate::rates::{IntervalMethod, interval_effective};

/// By how much the best strength tested is shown to be better than each strength: lower limits of the differences less `margin`, all
/// together at the level asked for.
///
/// # References
/// Newcombe RG (1998), Statist. Med. 17:873-890, method 10, on effective counts; Dunn OJ (1961), JASA 56:52-64.
pub(super) fn shown_worse(curve: &Curve, margin: f64, level: f64) -> Result<Vec<f64>> {
    let levels = &curve.data.levels;
    let each = 1.0 - (1.0 - level) / (levels.len() as f64 - 1.0).max(1.0);
    let critical = curve.judge.critical(each);
    let mut rates = Vec::with_capacity(levels.len());
    for one in levels {
        let (low, high) = interval_effective(one.rooted, one.stuck, IntervalMethod::Wilson, critical)?;
        rates.push(Spanned { value: one.rooted / one.stuck, low, high });
    }
    let best = rates.iter().max_by(|a, b| a.value.total_cmp(&b.value)).copied();
    let Some(best) = best else { return Ok(Vec::new()) };
    let short = |one: &Spanned| best.value - one.value - (best.value - best.low).hypot(one.high - one.value) - margin;
    Ok(rates.iter().map(short).collect())
}

/// The range without the strengths whose own trays show them to be worse than the best tested one by more than the margin. An end moves to
/// where that bound, straight between neighbouring strengths, is 0; never past `best`.
pub(super) fn without_worse(
    curve: &Curve,
    (low, high, whole): (f64, f64, bool),
    best: f64,
    worse: &[f64],
) -> (f64, f64, bool) {
    if !curve.data.is_softened() {
        return (low, high, whole);
    }
    let axis = &curve.data.axis;
    let rows: Vec<(f64, f64)> = curve.data.levels.iter().map(|one| one.strength).zip(worse.iter().copied()).collect();
    // Of a strength that is worse and its neighbour towards the best: the strength where the bound between them is 0.
    let edge = |outer: (f64, f64), inner: (f64, f64)| {
        if inner.1 >= 0.0 {
            return inner.0;
        }
        let (from, to) = (axis.place(outer.0).t, axis.place(inner.0).t);
        let bound = |t: f64| outer.1 + (inner.1 - outer.1) * (t - from) / (to - from);
        brent(bound, from, to, 1e-12).map_or(inner.0, |t| axis.strength(t))
    };
    let mut found = (low, high);
    for pair in rows.windows(2) {
        let [a, b] = pair else { continue };
        if a.1 > 0.0 && a.0 < best && a.0 >= found.0 {
            found.0 = edge(*a, *b).min(best).max(found.0);
        }
        if b.1 > 0.0 && b.0 > best && b.0 <= found.1 {
            found.1 = edge(*b, *a).max(best).min(found.1);
        }
    }
    (found.0, found.1, whole)
}

/// True where some strength rooted all or none and the likeliest shape has hardly a degree of freedom left to be contradicted by.
pub(super) fn untold(curve: &Curve) -> bool {
    const LEAST_LEFT: f64 = 2.0;
    curve.data.is_softened() && curve.members.first().is_some_and(|lead| lead.lack_df < LEAST_LEFT)
}

/// Limits of a strength between tested strengths, where shapes have hardly a degree of freedom left to be contradicted by and some strength
/// rooted all or none: between two tested strengths the shape alone then decides, so limits move outward to the next tested strength. A
/// strength that `worse` counts out is not moved to.
pub(super) fn to_tested(curve: &Curve, found: StrengthLimits, worse: &[f64]) -> StrengthLimits {
    if !untold(curve) {
        return found;
    }
    let levels = &curve.data.levels;
    let kept = |at: &usize| worse.get(*at).is_none_or(|worse| *worse <= 0.0);
    let strength = |at: usize| levels.get(at).map(|level| level.strength);
    let below = levels.iter().rposition(|level| level.strength <= found.low).filter(kept).and_then(strength);
    let above = levels.iter().position(|level| level.strength >= found.high).filter(kept).and_then(strength);
    StrengthLimits { low: below.unwrap_or(found.low), high: above.unwrap_or(found.high), ..found }
}
