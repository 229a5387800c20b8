//! Figures averaged over shapes, with the doubt about the shape in their intervals.

use super::pairs::untold;
use crate::curves::fit::{Curve, Fitted, Judge, Level, Member, Spanned};
use crate::curves::shape::best;
use crate::math::dense::add_scaled;
use crate::math::search::brent;
use crate::math::special::{expit, logit};
use crate::rates::{IntervalMethod, interval_effective};

/// Rates nearer to 0 or 1 than this are drawn in for the log odds of a band.
const DRAWN_IN: f64 = 1e-6;

/// The take at a strength: mean over shapes; limits from the log odds, each shape's standard error widened by its distance from
/// the mean.
///
/// # References
/// Buckland ST, Burnham KP, Augustin NH (1997), Biometrics 53:603-618, equation 9.
pub(crate) fn take(curve: &Curve, members: &[(&Member, f64)], strength: f64, level: f64) -> Spanned {
    let own = Neighbours::new(curve, strength, level);
    let members = &with_say_in_takes(curve, members);
    let value: f64 =
        members.iter().map(|(member, weight)| weight * own.held(member.fitted.rate(&curve.data, strength))).sum();
    let middle = logit(value.clamp(DRAWN_IN, 1.0 - DRAWN_IN));
    let spread: f64 = members
        .iter()
        .map(|(member, weight)| {
            let (rate, slopes) = member.fitted.seen(&curve.data, strength);
            let mean = own.held(rate).clamp(DRAWN_IN, 1.0 - DRAWN_IN);
            let se = own.error(&member.fitted, &slopes, mean) / (mean * (1.0 - mean));
            weight * se.hypot(logit(mean) - middle)
        })
        .sum();
    let critical = curve.judge.critical(level);
    if curve.data.overall() <= 0.0 || curve.data.overall() >= 1.0 {
        // All cuttings rooted or none did: what they together leave open.
        let total = curve.judge.over_bays(value, curve.data.levels.iter().map(|level| level.stuck).sum());
        let limits = interval_effective(value * total, total, IntervalMethod::Wilson, critical);
        let (low, high) = limits.unwrap_or((0.0, 1.0));
        return Spanned { value, low, high };
    }
    let spread = curve.judge.spread_over_bays(spread);
    let (none, all) = nearest_is_end(curve, strength);
    let straight = (expit(middle - critical * spread), expit(middle + critical * spread));
    let (below, above) = own.no_wider(straight, (value, spread), critical);
    let low = if none { 0.0 } else { below };
    let high = if all { 1.0 } else { above };
    by_own_trays(curve, Spanned { value, low, high }, strength, level)
}

/// Fewer cuttings of the rarer outcome than this at a strength, and its log odds have no normal error to speak of.
const FEW: f64 = 5.0;

/// Limits of a take near 0 or 1, held against the own trays of the tested strength, or of those on both sides.
///
/// On the log odds a take of nearly 0 or 1 has any limits: what places add to the level of a curve, known where most cuttings speak, or a
/// standard error by a rate that lies at an edge. So where so few cuttings are of the rarer outcome limits go no farther than those of the trays
/// themselves (Wilson's, over places where these count), and where all or none were counted they are those (`curve_places.md`).
fn by_own_trays(curve: &Curve, found: Spanned, strength: f64, level: f64) -> Spanned {
    let levels = &curve.data.levels;
    let end = |one: &Level| one.rooted <= 0.0 || one.rooted >= one.stuck;
    let above = levels.iter().position(|one| one.strength >= strength).unwrap_or(levels.len());
    let tested = levels.get(above).filter(|one| one.strength <= strength);
    let below = above.checked_sub(1).filter(|_| tested.is_none());
    let around = || [below, Some(above)].into_iter().flatten().filter_map(|at| levels.get(at));
    // Softened fits without places have limits of their own there.
    if curve.judge.level_variance <= 0.0 && curve.data.is_softened() {
        return found;
    }
    if !around().all(Level::is_few) || (curve.judge.level_variance <= 0.0 && !around().any(end)) {
        return found;
    }
    let critical = curve.judge.critical(level);
    let (mut least, mut most) = (1.0_f64, 0.0_f64);
    for one in around() {
        let (low, high) = one.limits(&curve.judge, critical);
        (least, most) = (least.min(low), most.max(high));
    }
    let (least, most) = (least.min(found.value), most.max(found.value));
    if around().all(end) && !curve.data.is_softened() {
        return Spanned { low: least, high: most, ..found };
    }
    Spanned { low: found.low.max(least), high: found.high.min(most), ..found }
}

/// The take at a tested strength whose limits, where so few cuttings are of the rarer outcome, are those of its own trays: what a shape
/// promises near 0 or 1 depends on its tail alone.
fn take_tested(curve: &Curve, members: &[(&Member, f64)], one: &Level, level: f64) -> Spanned {
    let found = take(curve, members, one.strength, level);
    if !one.is_few() {
        return found;
    }
    let (low, high) = one.limits(&curve.judge, curve.judge.critical(level));
    Spanned { low: low.min(found.value), high: high.max(found.value), ..found }
}

/// The take at a tested strength; as counted, with limits of its own, where all or none of its cuttings count.
pub(crate) fn take_counted(curve: &Curve, members: &[(&Member, f64)], one: &Level, level: f64) -> Spanned {
    if one.rooted > 0.0 && one.rooted < one.stuck {
        return take_tested(curve, members, one, level);
    }
    let (low, high) = one.limits(&curve.judge, curve.judge.critical(level));
    Spanned { value: one.rooted / one.stuck, low, high }
}

impl Level {
    fn is_few(&self) -> bool {
        self.rooted.min(self.stuck - self.rooted) < FEW
    }

    /// Limits of the take by the trays of the strength alone, over places where these carry the level.
    fn limits(&self, judge: &Judge, critical: f64) -> (f64, f64) {
        let share = judge.over_bays(self.rooted / self.stuck, self.stuck) / self.stuck;
        let found = interval_effective(share * self.rooted, share * self.stuck, IntervalMethod::Wilson, critical);
        found.unwrap_or((0.0, 1.0))
    }
}

/// The shapes that speak for takes, with weights that add up to 1. Where some strength rooted all or none, those that pass through all
/// strengths whatever these show are left out as long as another is not contradicted.
fn with_say_in_takes<'a>(curve: &Curve, members: &[(&'a Member, f64)]) -> Vec<(&'a Member, f64)> {
    let checked = |member: &Member| member.lack_df > 0.0;
    let total: f64 = members.iter().filter(|(member, _)| checked(member)).map(|(_, weight)| weight).sum();
    if !curve.data.is_softened() || total <= 0.0 {
        return members.to_vec();
    }
    members.iter().filter(|(member, _)| checked(member)).map(|(member, weight)| (*member, weight / total)).collect()
}

/// What the own trays of the strengths on both sides of a strength say, where some strength rooted all or none.
///
/// A shape that passes through all strengths leaves what lies between them open, and its own standard error there tells of the shape alone.
/// So takes stay within the limits of the neighbours' own takes, and no shape's standard error is larger than that of a strength with as many
/// cuttings as they have; how far shapes differ is counted beside it. Where the likeliest shape has hardly a degree of freedom left to be contradicted by,
/// its standard error stands halfway (their geometric mean) to that: `curves_at_the_ends.md` has what either alone holds.
///
/// A shape that the counts leave open is held to the same standard error everywhere: its information is singular but for rounding.
struct Neighbours {
    /// Effective cuttings of the neighbour with fewer.
    stuck: f64,
    low: f64,
    high: f64,
    untold: bool,
    /// True where some strength rooted all or none.
    softened: bool,
}

impl Neighbours {
    fn new(curve: &Curve, strength: f64, level: f64) -> Self {
        let levels = &curve.data.levels;
        let softened = curve.data.is_softened();
        let mut found = Self { stuck: f64::INFINITY, low: 1.0, high: 0.0, untold: softened && untold(curve), softened };
        let critical = curve.judge.critical(level);
        let above = levels.iter().position(|level| level.strength >= strength).unwrap_or(levels.len());
        let around = [above.checked_sub(1), Some(above)].into_iter().flatten().filter_map(|at| levels.get(at));
        for one in around {
            let limits = interval_effective(one.rooted, one.stuck, IntervalMethod::Wilson, critical);
            let (low, high) = limits.unwrap_or((0.0, 1.0));
            found.stuck = found.stuck.min(one.counts().1);
            (found.low, found.high) = (found.low.min(low), found.high.max(high));
        }
        if !softened {
            (found.low, found.high) = (0.0, 1.0);
        }
        found
    }

    /// The largest standard error of a take by a shape: that of so many cuttings; infinite where nothing is bounded.
    fn most(&self, fitted: &Fitted, take: f64) -> f64 {
        if !(self.softened || fitted.open) {
            return f64::INFINITY;
        }
        let take = take.clamp(DRAWN_IN, 1.0 - DRAWN_IN);
        (take * (1.0 - take) / self.stuck).sqrt()
    }

    fn error(&self, fitted: &Fitted, slopes: &[f64], take: f64) -> f64 {
        let most = self.most(fitted, take);
        let own = fitted.se(slopes).min(most);
        if self.untold { (own * most).sqrt() } else { own }
    }

    fn held(&self, rate: f64) -> f64 {
        rate.max(self.low).min(self.high)
    }

    /// Limits straight on the log odds, no farther than Wilson's of as many cuttings as have the standard error `spread` of the take's log odds,
    /// or that of the neighbours where it is larger: a take known no better than theirs has the limits that take rates would give it. Straight
    /// on the log odds they would be wider, most where cuttings are few. With hardly a cutting of the rarer outcome they stay as they are.
    fn no_wider(&self, straight: (f64, f64), (take, spread): (f64, f64), critical: f64) -> (f64, f64) {
        if !self.softened {
            return straight;
        }
        let take = take.clamp(DRAWN_IN, 1.0 - DRAWN_IN);
        let cuttings = self.stuck.min(1.0 / (spread * spread * take * (1.0 - take)));
        if cuttings * take.min(1.0 - take) < FEW {
            return straight;
        }
        let wilson = interval_effective(take * cuttings, cuttings, IntervalMethod::Wilson, critical);
        wilson.map_or(straight, |(low, high)| (straight.0.max(low), straight.1.min(high)))
    }
}

/// Whether none, or all, rooted at the tested strength that is nearest on the axis: then the take there may be as far out.
fn nearest_is_end(curve: &Curve, strength: f64) -> (bool, bool) {
    let t = curve.data.axis.place(strength).t;
    let far = |level: &Level| (level.place.t - t).abs();
    let nearest = curve.data.levels.iter().min_by(|a, b| far(a).total_cmp(&far(b))).filter(|one| one.pseudo > 0.0);
    (nearest.is_some_and(|one| one.rooted <= 0.0), nearest.is_some_and(|one| one.rooted > 0.0))
}

/// By how much a strength is worse than another, or than the best of each shape, a difference of take rates, and its standard error over
/// shapes.
fn shortfall(curve: &Curve, members: &[(&Member, f64)], strength: f64, than: Option<f64>) -> (f64, f64) {
    let axis = &curve.data.axis;
    let own = Neighbours::new(curve, strength, 0.95);
    let each: Vec<(f64, f64, f64)> = members
        .iter()
        .map(|(member, weight)| {
            let fitted = &member.fitted;
            let (here, slopes) = fitted.seen(&curve.data, strength);
            let than = than.unwrap_or_else(|| best(fitted.form, fitted.own(), axis));
            let (top, mut difference) = fitted.seen(&curve.data, than);
            add_scaled(&mut difference, -1.0, &slopes);
            let bound = own.most(fitted, here).hypot(own.most(fitted, top));
            (*weight, top - here, fitted.se(&difference).min(bound))
        })
        .collect();
    let mean: f64 = each.iter().map(|(weight, short, _)| weight * short).sum();
    (mean, each.iter().map(|(weight, short, se)| weight * se.hypot(short - mean)).sum())
}

/// Strengths looked at for the range that is not shown to be worse.
const LOOKED_AT: usize = 160;

/// The lowest and the highest strength not shown to be worse than the best by more than `margin`, and whether all between them are so.
/// What is worse than the averaged curve's top is worse than the best: a shape whose own top no strength was near to does not hide that.
pub(super) fn not_worse(
    curve: &Curve,
    members: &[(&Member, f64)],
    (margin, level): (f64, f64),
    top: f64,
) -> (f64, f64, bool) {
    let axis = &curve.data.axis;
    let critical = curve.judge.critical(level);
    let by = |strength: f64, than: Option<f64>| {
        let (mean, se) = shortfall(curve, members, strength, than);
        mean - critical * se - margin
    };
    let shown = |t: f64| {
        let strength = axis.strength(t);
        by(strength, None).max(by(strength, Some(top)))
    };
    let at = |i: usize| i as f64 / LOOKED_AT as f64;
    let fine: Vec<bool> = (0..=LOOKED_AT).map(|i| shown(at(i)) <= 0.0).collect();
    let (Some(first), Some(last)) = (fine.iter().position(|ok| *ok), fine.iter().rposition(|ok| *ok)) else {
        return (f64::NAN, f64::NAN, false);
    };
    let edge =
        |inside: usize, outside: usize| brent(shown, at(inside), at(outside), 1e-10).unwrap_or_else(|_| at(inside));
    let low = if first == 0 { 0.0 } else { edge(first, first - 1) };
    let high = if last == LOOKED_AT { 1.0 } else { edge(last, last + 1) };
    let whole = fine.get(first..=last).is_some_and(|all| all.iter().all(|ok| *ok));
    (axis.strength(low), axis.strength(high), whole)
}

/// The strength where the averaged take is highest within the tested range.
pub(super) fn highest(curve: &Curve, members: &[(&Member, f64)]) -> f64 {
    const GRID: usize = 48;
    let axis = &curve.data.axis;
    let rate = |t: f64| -> f64 {
        let strength = axis.strength(t);
        members.iter().map(|(member, weight)| weight * member.fitted.rate(&curve.data, strength)).sum()
    };
    let at = |i: usize| i as f64 / GRID as f64;
    let rates: Vec<f64> = (0..=GRID).map(|i| rate(at(i))).collect();
    let top = rates
        .iter()
        .enumerate()
        .fold((0, f64::NEG_INFINITY), |a, b| if *b.1 > a.1 + 1e-12 { (b.0, *b.1) } else { a })
        .0;
    if top == 0 || top == GRID {
        // Between the end and its neighbour the top may still lie inside.
        let (inner, t) = if top == 0 { (at(1), 0.0) } else { (at(GRID - 1), 1.0) };
        let (low, high) = if top == 0 { (0.0, inner) } else { (inner, 1.0) };
        let (place, least) = crate::math::search::maximum(rate, low, f64::midpoint(low, high), high, 1e-9);
        return axis.strength(if least > rate(t) + 1e-9 { place } else { t });
    }
    let (place, _) = crate::math::search::maximum(rate, at(top - 1), at(top), at(top + 1), 1e-9);
    axis.strength(place)
}
