//! The tested strengths on the axes that curves use, and the counts at them.

use super::beside::Beside;
use super::curve::RateAt;
use super::likelihood::EDGE;
use crate::math::regression::isotonic;

/// One tested strength: effective counts of rooted and stuck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Level {
    pub(super) strength: f64,
    pub(super) place: Place,
    pub(super) rooted: f64,
    pub(super) stuck: f64,
    /// Added to the rooted and to those that did not root in every likelihood: see [`Data::softened`].
    pub(super) pseudo: f64,
}

impl Level {
    /// Rooted and stuck as they enter likelihoods.
    pub(super) fn counts(&self) -> (f64, f64) {
        (self.rooted + self.pseudo, self.stuck + 2.0 * self.pseudo)
    }
}

/// Which `d0` an axis `ln(1 + d / d0)` has: the given one, or the lowest strength above 0, times one of [`FACTORS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct On(u8);

impl On {
    /// The given `d0`, or the lowest strength above 0.
    pub(super) const BASE: Self = Self(4);
    /// The smallest `d0` that is tried where cuttings root without hormone.
    const QUARTER: Self = Self(2);
}

/// From a quarter on, each twice the one before; the two below bend so late that nothing needs to root at strength 0.
const FACTORS: [f64; 12] = [0.015_625, 0.0625, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];

/// Added to both outcomes of a strength at which all cuttings rooted or none did: half an effective cutting, as in Jeffreys' prior.
const PSEUDO: f64 = 0.5;

/// A strength on all axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// `ln(1 + d / d0)`, counted from 0 at the lowest to 1 at the highest tested strength.
    pub(super) t: f64,
    /// The same for every `d0`.
    all: [f64; FACTORS.len()],
    /// `ln d`; minus infinity at 0.
    pub(super) z: f64,
    /// `ln d0` of the axis asked for.
    pub(super) ln_d0: f64,
}

impl Place {
    /// The place on one of the axes `ln(1 + d / d0)`.
    pub(super) fn on(&self, on: On) -> f64 {
        self.all.get(usize::from(on.0)).copied().unwrap_or(self.t)
    }
}

/// One axis `ln(1 + d / d0)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    /// `d0`.
    pub(super) shift: f64,
    low: f64,
    /// Distance from the lowest to the highest tested strength.
    pub(super) span: f64,
}

impl Scale {
    fn new(shift: f64, low: f64, high: f64) -> Self {
        let x_low = (low / shift).ln_1p();
        let span = (high / shift).ln_1p() - x_low;
        Self { shift, low: x_low, span: if span > 0.0 { span } else { 1.0 } }
    }

    fn t(&self, strength: f64) -> f64 {
        ((strength / self.shift).ln_1p() - self.low) / self.span
    }
}

/// What the tested strengths span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Axis {
    base: Scale,
    all: [Scale; FACTORS.len()],
    /// True where `d0` was given: then no other is tried.
    pub(super) given: bool,
    /// Lowest strength tested.
    pub(super) low: f64,
    /// Highest strength tested.
    pub(super) high: f64,
    /// `ln` of the lowest strength above 0.
    pub(super) z_low: f64,
    /// `ln` of the highest strength.
    pub(super) z_high: f64,
    /// Least distance between two strengths above 0 on the log scale.
    pub(super) z_gap: f64,
}

impl Axis {
    /// From strengths in rising order, without repeats; `shift` is the lowest strength above 0 when not given.
    pub(super) fn new(strengths: &[f64], shift: Option<f64>) -> Self {
        let positive: Vec<f64> = strengths.iter().copied().filter(|d| *d > 0.0).collect();
        let (first, last) = (positive.first().copied().unwrap_or(1.0), positive.last().copied().unwrap_or(1.0));
        let gaps = positive.iter().zip(positive.iter().skip(1)).map(|(a, b)| (b / a).ln());
        let given = shift.is_some();
        let shift = shift.unwrap_or(first);
        let low = strengths.first().copied().unwrap_or(0.0);
        let high = last.max(low);
        let z_gap = gaps.fold(f64::INFINITY, f64::min).clamp(1e-3, 4.0);
        let base = Scale::new(shift, low, high);
        let all = FACTORS.map(|factor| Scale::new(factor * shift, low, high));
        Self { base, all, given, low, high, z_low: first.ln(), z_high: last.ln(), z_gap }
    }

    /// One of the axes `ln(1 + d / d0)`.
    pub(super) fn scale(&self, on: On) -> &Scale {
        self.all.get(usize::from(on.0)).unwrap_or(&self.base)
    }

    /// The axes to try: the given one alone, else all `d0` up to half of the highest strength. `none` tells that nothing rooted at
    /// strength 0: then smaller ones as well.
    pub(super) fn tried(&self, none: bool) -> Vec<On> {
        let least = if none { 0 } else { usize::from(On::QUARTER.0) };
        let usable =
            |(at, scale): (usize, &Scale)| (at >= least && scale.shift <= 0.5 * self.high).then_some(On(at as u8));
        let found: Vec<On> = self.all.iter().enumerate().filter_map(usable).collect();
        if self.given || found.is_empty() { vec![On::BASE] } else { found }
    }

    /// Fewer of them, for a shape that bends by itself: the base, and each four times the one before.
    pub(super) fn tried_coarsely(&self, none: bool) -> Vec<On> {
        let wanted = |on: &On| (none || on.0 >= On::BASE.0) && on.0.is_multiple_of(2);
        let found: Vec<On> = self.tried(none).into_iter().filter(wanted).collect();
        if found.is_empty() { vec![On::BASE] } else { found }
    }

    /// `ln` of the given `d0`, or of the lowest strength above 0.
    pub(super) fn ln_d0(&self) -> f64 {
        self.base.shift.ln()
    }

    pub(super) fn z_span(&self) -> f64 {
        self.z_high - self.z_low
    }

    /// A strength on the axes.
    pub(super) fn place(&self, strength: f64) -> Place {
        let all = self.all.map(|scale| scale.t(strength));
        Place { t: self.base.t(strength), all, z: strength.ln(), ln_d0: self.ln_d0() }
    }

    /// The strength at a place `t` (0 at the lowest, 1 at the highest tested).
    pub(super) fn strength(&self, t: f64) -> f64 {
        self.strength_on(On::BASE, t)
    }

    /// The same on one of the axes.
    pub(super) fn strength_on(&self, on: On, t: f64) -> f64 {
        let scale = self.scale(on);
        // The ends are the tested strengths to the last digit.
        if t <= 0.0 && t > -1e-15 {
            self.low
        } else if t == 1.0 {
            self.high
        } else {
            (scale.shift * (scale.low + t * scale.span).exp_m1()).max(0.0)
        }
    }

    /// The strength into the tested range.
    pub(super) fn within(&self, strength: f64) -> f64 {
        strength.max(self.low).min(self.high)
    }

    /// `count + 1` strengths from the lowest to the highest, evenly spread on `x`.
    pub(super) fn grid(&self, count: usize) -> Vec<f64> {
        (0..=count).map(|i| self.strength(i as f64 / count as f64)).collect()
    }
}

/// The data of one curve.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Data {
    pub(super) axis: Axis,
    pub(super) levels: Vec<Level>,
    /// Blocks taken out and a law of the trays; none where effective counts of strengths say all.
    pub(super) beside: Option<Box<Beside>>,
}

impl Data {
    /// From strengths in rising order with effective counts.
    pub(super) fn new(counts: &[(f64, f64, f64)], shift: Option<f64>) -> Self {
        let strengths: Vec<f64> = counts.iter().map(|count| count.0).collect();
        let axis = Axis::new(&strengths, shift);
        let level = |&(strength, rooted, stuck): &(f64, f64, f64)| Level {
            strength,
            place: axis.place(strength),
            rooted,
            stuck,
            pseudo: 0.0,
        };
        Self { axis, levels: counts.iter().map(level).collect(), beside: None }
    }

    /// The same with half an effective cutting added to both outcomes of every strength at which all cuttings rooted or none did.
    ///
    /// A curve through such a strength has no top of its likelihood in the steepness of its rise or fall there, and no curvature by which
    /// to judge: what is added bounds both. It enters the fit, the weights, the lack of fit and the profiles alike. Where all strengths are
    /// so there is no curve, and nothing is added.
    ///
    /// # References
    /// Firth D (1993), Biometrika 80:27-38 (for a rate of its own the penalty by Jeffreys' prior adds one half to both counts).
    pub(super) fn softened(mut self) -> Self {
        let overall = self.overall();
        if overall > 0.0 && overall < 1.0 {
            for level in self.levels.iter_mut().filter(|level| level.rooted <= 0.0 || level.rooted >= level.stuck) {
                level.pseudo = PSEUDO;
            }
        }
        self
    }

    /// True where some strength had something added.
    pub(super) fn is_softened(&self) -> bool {
        self.levels.iter().any(|level| level.pseudo > 0.0)
    }

    /// True where strength 0 was tested and nothing rooted at it.
    pub(super) fn none_at_zero(&self) -> bool {
        self.levels.first().is_some_and(|level| level.strength == 0.0 && level.rooted <= 0.0)
    }

    /// Rooted and stuck of all strengths as they enter likelihoods.
    pub(super) fn counts(&self) -> (Vec<f64>, Vec<f64>) {
        self.levels.iter().map(Level::counts).unzip()
    }

    /// The same counts on an axis shared with other curves.
    #[expect(clippy::large_types_passed_by_value, reason = "the axis is kept")]
    pub(super) fn on(&self, axis: Axis) -> Self {
        let level = |level: &Level| Level { place: axis.place(level.strength), ..*level };
        Self { axis, levels: self.levels.iter().map(level).collect(), beside: self.beside.clone() }
    }

    /// The coordinates of the shape among all.
    pub(super) fn own<'a>(&self, theta: &'a [f64]) -> &'a [f64] {
        let size = theta.len() - self.beside.as_ref().map_or(0, |beside| beside.size()).min(theta.len());
        theta.get(..size).unwrap_or_default()
    }

    /// The coordinates beside the shape.
    pub(super) fn others<'a>(&self, theta: &'a [f64]) -> &'a [f64] {
        theta.get(self.own(theta).len()..).unwrap_or_default()
    }

    /// The take over all blocks and trays where the shape has this rate, and its slopes by all coordinates.
    pub(super) fn seen(&self, theta: &[f64], here: &RateAt, slopes: &mut Vec<f64>) -> f64 {
        slopes.clear();
        slopes.extend(here.slopes.iter().take(self.own(theta).len()));
        let Some(beside) = &self.beside else { return here.mean };
        let own = slopes.len();
        let (value, by_eta) = beside.seen(here.mean, self.others(theta), slopes);
        let p = here.mean.clamp(EDGE, 1.0 - EDGE);
        if beside.averages() {
            slopes.iter_mut().take(own).for_each(|slope| *slope *= by_eta / (p * (1.0 - p)));
            value
        } else {
            here.mean
        }
    }

    /// The take alone.
    pub(super) fn seen_mean(&self, theta: &[f64], mean: f64) -> f64 {
        self.beside.as_ref().map_or(mean, |beside| beside.seen_mean(mean, self.others(theta)))
    }

    pub(super) fn rooted(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.rooted).collect()
    }

    pub(super) fn stuck(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.stuck).collect()
    }

    pub(super) fn rates(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.rooted / level.stuck).collect()
    }

    /// Log-likelihood of the effective counts with a rate of its own for every strength, without binomial coefficients.
    pub(super) fn free_on_counts(&self) -> f64 {
        let (rooted, stuck) = self.counts();
        let rates: Vec<f64> = rooted.iter().zip(&stuck).map(|(y, n)| y / n).collect();
        isotonic::loglik(&rooted, &stuck, &rates)
    }

    /// The take rate over all strengths as counted, and the effective cuttings behind it.
    pub(super) fn mean_take(&self) -> (f64, f64) {
        let stuck: f64 = self.levels.iter().map(|level| level.stuck).sum();
        (self.levels.iter().map(|level| level.rooted).sum::<f64>() / stuck, stuck)
    }

    /// The take rate over all strengths.
    pub(super) fn overall(&self) -> f64 {
        let (rooted, stuck) = self.counts();
        rooted.iter().sum::<f64>() / stuck.iter().sum::<f64>()
    }
}
