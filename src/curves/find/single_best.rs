//! Do several curves have one best strength? Their best strengths against each other, and the strengths that suit all.

use super::numbers::{BestOf, BestsCompared, Placed, Withheld};
use crate::curves::fit::Judge;
use crate::curves::shape::Axis;

/// Sets the best strengths against each other, on `ln(1 + d / d0)`: the limits of each, which need not be symmetric, give those of a difference
/// by adding squared distances; all pairs together hold the level.
///
/// # References
/// Zou GY, Donner A (2008), Statist. Med. 27:1693-1702.
pub(crate) fn bests_compared(
    bests: &[(Placed, Option<Withheld>)],
    names: &[String],
    axis: &Axis,
    (judge, level): (&Judge, f64),
) -> BestsCompared {
    let each = |((best, withheld), name): (&(Placed, Option<Withheld>), &String)| BestOf {
        curve: name.clone(),
        value: best.strength.value,
        low: best.strength.low,
        high: best.strength.high,
        located: best.located,
        withheld: *withheld,
        range_low: best.range.0,
        range_high: best.range.1,
    };
    let each: Vec<BestOf> = bests.iter().zip(names).map(each).collect();
    let pairs = (bests.len() * bests.len().saturating_sub(1) / 2).max(1) as f64;
    let wider = judge.critical(1.0 - (1.0 - level) / pairs) / judge.critical(level);
    let all_told = each.iter().all(|one| one.withheld.is_none());
    let x = |strength: f64| axis.place(strength).t;
    let differ = |a: &BestOf, b: &BestOf| {
        let (low, high) = if x(a.value) < x(b.value) { (a, b) } else { (b, a) };
        let (up, down) = (x(low.high) - x(low.value), x(high.value) - x(high.low));
        x(high.value) - x(low.value) > wider * up.hypot(down)
    };
    let some = each.iter().enumerate().any(|(at, a)| each.iter().skip(at + 1).any(|b| differ(a, b)));
    let from = each.iter().map(|one| one.range_low).fold(f64::NEG_INFINITY, f64::max);
    let to = each.iter().map(|one| one.range_high).fold(f64::INFINITY, f64::min);
    // A curve that does not fit says nothing of what suits it.
    let suits = from <= to && each.iter().all(|one| !one.withheld.is_some_and(Withheld::has_no_curve));
    BestsCompared {
        differ: all_told.then_some(some),
        suits_from: suits.then_some(from),
        suits_to: suits.then_some(to),
        each,
    }
}

impl BestsCompared {
    /// One strength for all curves: between their best strengths, where none shows it to be worse than its best by more than the margin.
    pub(crate) fn one_for_all(&self) -> Option<f64> {
        let (from, to) = (self.suits_from?, self.suits_to?);
        let positive: Vec<f64> = self.each.iter().map(|one| one.value.max(1e-300).ln()).collect();
        let middle = (positive.iter().sum::<f64>() / positive.len() as f64).exp();
        Some(middle.clamp(from, to))
    }
}
