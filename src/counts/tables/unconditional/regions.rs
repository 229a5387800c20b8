//! Tables at least as extreme as the observed one, as ln of the number of ways for each total rooted.
//!
//! Every ordering here compares tables of one total by their distance from the expected count, so a region is one tail or
//! two for each total. The score statistic is compared in whole numbers: the mirror of a table ties with it exactly.

use rayon::prelude::*;

use super::margins::{Margins, Way};
use super::order::UnconditionalOrder;
use crate::control::Control;
use crate::error::Result;
use crate::math::search::boundary;

/// Relative slack within which two table probabilities count as equal, as in Fisher's test.
const TIED: f64 = 1e-7;
/// Relative slack within which two P values or statistics that are not whole count as equal.
const SLACK: f64 = 1e-10;
/// Terms this many natural logarithms below the observed P value do not change a sum.
const FAR_BELOW: f64 = 60.0;

/// What counts as extreme: fewer rooted in the first group, more, or both.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Less,
    Greater,
    Both,
}

/// The observed table: `x` of the first group and `rooted` in all.
#[derive(Debug, Clone, Copy)]
pub(super) struct Observed {
    pub(super) x: usize,
    pub(super) rooted: usize,
}

/// ln of the ways that lie in the region, for each total rooted from 0 to N.
pub(super) fn ln_region(
    margins: &Margins,
    observed: Observed,
    order: UnconditionalOrder,
    side: Side,
    control: &Control,
) -> Result<Vec<f64>> {
    let limit = (order == UnconditionalOrder::Boschloo).then(|| ln_fisher(margins, observed, side));
    let one = |rooted: usize| {
        control.step()?;
        Ok(match (order, limit) {
            (UnconditionalOrder::Boschloo, Some(limit)) if side == Side::Both => ends(margins, rooted, limit),
            (UnconditionalOrder::Boschloo, Some(limit)) => end(margins, rooted, limit, side),
            (UnconditionalOrder::BarnardUnpooled, _) => two_tails(margins, rooted, side, &|x| {
                unpooled(margins, Observed { x, rooted }).at_least(unpooled(margins, observed), side)
            }),
            _ => two_tails(margins, rooted, side, &|x| {
                pooled(margins, Observed { x, rooted }).at_least(pooled(margins, observed), side)
            }),
        })
    };
    (0..margins.total() + 1).into_par_iter().with_min_len(256).map(one).collect()
}

/// A signed squared statistic as a fraction of whole numbers, `sign * top / bottom`; a zero bottom is infinite unless the
/// top is 0 too.
#[derive(Debug, Clone, Copy)]
struct Fraction {
    negative: bool,
    top: u128,
    bottom: u128,
}

impl Fraction {
    fn new(off: i128, bottom: u128) -> Self {
        if off == 0 {
            return Self { negative: false, top: 0, bottom: 1 };
        }
        Self { negative: off < 0, top: off.unsigned_abs().pow(2), bottom }
    }

    /// Whether the size is at least that of `other`; a product too large for whole numbers is compared with slack.
    fn size_at_least(self, other: Self) -> bool {
        match (self.top.checked_mul(other.bottom), other.top.checked_mul(self.bottom)) {
            (Some(own), Some(its)) => own >= its,
            _ => self.top as f64 * other.bottom as f64 >= other.top as f64 * self.bottom as f64 * (1.0 - SLACK),
        }
    }

    fn at_least(self, observed: Self, side: Side) -> bool {
        match side {
            Side::Both => self.size_at_least(observed),
            Side::Greater => self.above(observed),
            Side::Less => self.turned().above(observed.turned()),
        }
    }

    fn turned(self) -> Self {
        Self { negative: self.top > 0 && !self.negative, ..self }
    }

    fn above(self, observed: Self) -> bool {
        match (self.negative, observed.negative) {
            (false, true) => true,
            (true, false) => false,
            (false, false) => self.size_at_least(observed),
            (true, true) => observed.size_at_least(self),
        }
    }
}

/// Squared score statistic, up to a common factor: `(x N - s n1)^2 / (s (N - s))`.
fn pooled(margins: &Margins, table: Observed) -> Fraction {
    let (n, s) = (margins.total() as i128, table.rooted as i128);
    Fraction::new(table.x as i128 * n - s * margins.first as i128, (s * (n - s)).unsigned_abs())
}

/// Squared Wald statistic, up to a common factor: `(x1 n2 - x2 n1)^2 / (x1 (n1 - x1) n2^3 + x2 (n2 - x2) n1^3)`.
fn unpooled(margins: &Margins, table: Observed) -> Fraction {
    let (n1, n2, x1) = (margins.first as i128, margins.second as i128, table.x as i128);
    let x2 = table.rooted as i128 - x1;
    let bottom = x1 * (n1 - x1) * n2.pow(3) + x2 * (n2 - x2) * n1.pow(3);
    Fraction::new(x1 * n2 - x2 * n1, bottom.unsigned_abs())
}

/// The tails of one total in which `extreme` holds; it holds from some count on, outwards from the expected one.
fn two_tails(margins: &Margins, rooted: usize, side: Side, extreme: &dyn Fn(usize) -> bool) -> f64 {
    let (low, high) = margins.support(rooted);
    let expected = (rooted as u128 * margins.first as u128 / margins.total() as u128) as usize;
    let (below, above) = (expected.clamp(low, high), (expected + 1).clamp(low, high + 1));
    let up = match side {
        Side::Less => None,
        // One-sided regions may reach past the expected count.
        Side::Greater => first_true(low, high, extreme),
        Side::Both => first_true(above, high, extreme),
    };
    let down = match side {
        Side::Greater => None,
        Side::Less => last_true(low, high, extreme),
        Side::Both => last_true(low, below, extreme),
    };
    if let (Some(up), Some(down)) = (up, down)
        && down + 1 >= up
    {
        return margins.ln_all(rooted);
    }
    let tail = |at: Option<usize>, way| at.map_or(f64::NEG_INFINITY, |x| margins.ln_tail(x, rooted, way));
    ln_sum(tail(up, Way::Up), tail(down, Way::Down))
}

/// Smallest x in `low..=high` for which a condition that stays true upwards holds.
fn first_true(low: usize, high: usize, holds: &dyn Fn(usize) -> bool) -> Option<usize> {
    let first = boundary(low as f64 - 1.0, high as f64 + 1.0, |x| holds(x as usize)) as usize;
    (first <= high).then_some(first)
}

/// Largest x in `low..=high` for which a condition that stays true downwards holds.
fn last_true(low: usize, high: usize, holds: &dyn Fn(usize) -> bool) -> Option<usize> {
    first_true(low, high, &|x| !holds(x)).unwrap_or(high + 1).checked_sub(1).filter(|x| *x >= low)
}

/// ln(e^a + e^b).
fn ln_sum(a: f64, b: f64) -> f64 {
    let (small, large) = if a < b { (a, b) } else { (b, a) };
    if small == f64::NEG_INFINITY { large } else { large + (small - large).exp().ln_1p() }
}

/// ln of Fisher's P value of the observed table, one-sided or two-sided by probability.
fn ln_fisher(margins: &Margins, observed: Observed, side: Side) -> f64 {
    let Observed { x, rooted } = observed;
    let tail = |at: Option<usize>, way| at.map_or(f64::NEG_INFINITY, |at| margins.ln_tail(at, rooted, way));
    let ways = match side {
        Side::Greater => tail(Some(x), Way::Up),
        Side::Less => tail(Some(x), Way::Down),
        Side::Both => {
            let (low, high) = margins.support(rooted);
            let mode = margins.mode(rooted);
            let own = margins.ln_ways(x, rooted) + TIED;
            let light = |y: usize| margins.ln_ways(y, rooted) <= own;
            let up = first_true(mode, high, &light);
            let down = last_true(low, mode, &light);
            match (up, down) {
                (Some(up), Some(down)) if down + 1 >= up => margins.ln_all(rooted),
                _ => ln_sum(tail(up, Way::Up), tail(down, Way::Down)),
            }
        }
    };
    (ways - margins.ln_all(rooted)).min(0.0)
}

/// From an end of the support inwards, the first count whose term is not far below the limit.
fn start(margins: &Margins, rooted: usize, ln_limit: f64, way: Way) -> usize {
    let (low, high) = margins.support(rooted);
    let mode = margins.mode(rooted);
    let enough = |x: usize| margins.ln_ways(x, rooted) - margins.ln_all(rooted) >= ln_limit - FAR_BELOW;
    match way {
        Way::Up => last_true(mode, high, &enough).unwrap_or(mode),
        Way::Down => first_true(low, mode, &enough).unwrap_or(mode),
    }
}

/// Terms of one total from an end inwards, each over the limit.
struct Inward<'a> {
    margins: &'a Margins,
    rooted: usize,
    way: Way,
    at: usize,
    term: f64,
}

impl<'a> Inward<'a> {
    fn new(margins: &'a Margins, rooted: usize, ln_limit: f64, way: Way) -> Self {
        let at = start(margins, rooted, ln_limit, way);
        let term = (margins.ln_ways(at, rooted) - margins.ln_all(rooted) - ln_limit).exp();
        Self { margins, rooted, way, at, term }
    }

    /// Goes one count inwards; false at the other end of the support.
    fn advance(&mut self) -> bool {
        let (low, high) = self.margins.support(self.rooted);
        let inwards = if self.way == Way::Up { Way::Down } else { Way::Up };
        if (inwards == Way::Down && self.at <= low) || (inwards == Way::Up && self.at >= high) {
            return false;
        }
        self.term *= self.margins.step(self.at, self.rooted, inwards);
        self.at = if inwards == Way::Up { self.at + 1 } else { self.at - 1 };
        true
    }
}

/// The largest tail of one total that does not exceed the limit.
fn end(margins: &Margins, rooted: usize, ln_limit: f64, side: Side) -> f64 {
    let way = if side == Side::Greater { Way::Up } else { Way::Down };
    let mut terms = Inward::new(margins, rooted, ln_limit, way);
    let mut sum = 0.0;
    while sum + terms.term <= 1.0 + SLACK {
        sum += terms.term;
        if !terms.advance() {
            return margins.ln_all(rooted);
        }
    }
    margins.ln_all(rooted) + ln_limit + f64::ln(sum)
}

/// The largest set of least probable tables of one total whose sum does not exceed the limit; equal ones go together.
fn ends(margins: &Margins, rooted: usize, ln_limit: f64) -> f64 {
    let mut down = Inward::new(margins, rooted, ln_limit, Way::Down);
    let mut up = Inward::new(margins, rooted, ln_limit, Way::Up);
    let mut sum = 0.0;
    while down.at < up.at {
        let least = down.term.min(up.term) * (1.0 + TIED);
        let (take_down, take_up) = (down.term <= least, up.term <= least);
        let group = if take_down { down.term } else { 0.0 } + if take_up { up.term } else { 0.0 };
        if sum + group > 1.0 + SLACK {
            return margins.ln_all(rooted) + ln_limit + f64::ln(sum);
        }
        sum += group;
        let met = (take_down && !down.advance()) || (take_up && !up.advance());
        if met || down.at > up.at {
            return margins.ln_all(rooted);
        }
    }
    if sum + down.term <= 1.0 + SLACK {
        margins.ln_all(rooted)
    } else {
        margins.ln_all(rooted) + ln_limit + f64::ln(sum)
    }
}
