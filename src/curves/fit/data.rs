//! The counts of one curve at the tested strengths.

use super::beside::Beside;
use crate::curves::shape::{Axis, EDGE, Place, RateAt};
use crate::math::regression::isotonic;

/// One tested strength: effective counts of rooted and stuck.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Level {
    pub(crate) strength: f64,
    pub(crate) place: Place,
    pub(crate) rooted: f64,
    pub(crate) stuck: f64,
    /// Added to the rooted and to those that did not root in every likelihood: see [`Data::softened`].
    pub(crate) pseudo: f64,
}

impl Level {
    /// Rooted and stuck as they enter likelihoods.
    pub(crate) fn counts(&self) -> (f64, f64) {
        (self.rooted + self.pseudo, self.stuck + 2.0 * self.pseudo)
    }
}

/// Added to both outcomes of a strength at which all cuttings rooted or none did: half an effective cutting, as in Jeffreys' prior.
const PSEUDO: f64 = 0.5;

/// The data of one curve.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Data {
    pub(crate) axis: Axis,
    pub(crate) levels: Vec<Level>,
    /// Blocks taken out and a law of the trays; none where effective counts of strengths say all.
    pub(crate) beside: Option<Box<Beside>>,
}

impl Data {
    /// From strengths in rising order with effective counts.
    pub(crate) fn new(counts: &[(f64, f64, f64)], shift: Option<f64>) -> Self {
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
    pub(crate) fn softened(mut self) -> Self {
        let overall = self.overall();
        if overall > 0.0 && overall < 1.0 {
            for level in self.levels.iter_mut().filter(|level| level.rooted <= 0.0 || level.rooted >= level.stuck) {
                level.pseudo = PSEUDO;
            }
        }
        self
    }

    /// True where some strength had something added.
    pub(crate) fn is_softened(&self) -> bool {
        self.levels.iter().any(|level| level.pseudo > 0.0)
    }

    /// True where strength 0 was tested and nothing rooted at it.
    pub(super) fn none_at_zero(&self) -> bool {
        self.levels.first().is_some_and(|level| level.strength == 0.0 && level.rooted <= 0.0)
    }

    /// Rooted and stuck of all strengths as they enter likelihoods.
    pub(crate) fn counts(&self) -> (Vec<f64>, Vec<f64>) {
        self.levels.iter().map(Level::counts).unzip()
    }

    /// The same counts on an axis shared with other curves.
    #[expect(clippy::large_types_passed_by_value, reason = "the axis is kept")]
    pub(crate) fn on(&self, axis: Axis) -> Self {
        let level = |level: &Level| Level { place: axis.place(level.strength), ..*level };
        Self { axis, levels: self.levels.iter().map(level).collect(), beside: self.beside.clone() }
    }

    /// The coordinates of the shape among all.
    pub(crate) fn own<'a>(&self, theta: &'a [f64]) -> &'a [f64] {
        let size = theta.len() - self.beside.as_ref().map_or(0, |beside| beside.size()).min(theta.len());
        theta.get(..size).unwrap_or_default()
    }

    /// The coordinates beside the shape.
    pub(crate) fn others<'a>(&self, theta: &'a [f64]) -> &'a [f64] {
        theta.get(self.own(theta).len()..).unwrap_or_default()
    }

    /// The take over all blocks and trays where the shape has this rate, and its slopes by all coordinates.
    pub(crate) fn seen(&self, theta: &[f64], here: &RateAt, slopes: &mut Vec<f64>) -> f64 {
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

    pub(crate) fn rooted(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.rooted).collect()
    }

    pub(crate) fn stuck(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.stuck).collect()
    }

    pub(crate) fn rates(&self) -> Vec<f64> {
        self.levels.iter().map(|level| level.rooted / level.stuck).collect()
    }

    /// Log-likelihood of the effective counts with a rate of its own for every strength, without binomial coefficients.
    pub(super) fn free_on_counts(&self) -> f64 {
        let (rooted, stuck) = self.counts();
        let rates: Vec<f64> = rooted.iter().zip(&stuck).map(|(y, n)| y / n).collect();
        isotonic::loglik(&rooted, &stuck, &rates)
    }

    /// The take rate over all strengths as counted, and the effective cuttings behind it.
    pub(crate) fn mean_take(&self) -> (f64, f64) {
        let stuck: f64 = self.levels.iter().map(|level| level.stuck).sum();
        (self.levels.iter().map(|level| level.rooted).sum::<f64>() / stuck, stuck)
    }

    /// The take rate over all strengths.
    pub(crate) fn overall(&self) -> f64 {
        let (rooted, stuck) = self.counts();
        rooted.iter().sum::<f64>() / stuck.iter().sum::<f64>()
    }
}
