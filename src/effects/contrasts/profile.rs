//! The likelihood profile of a contrast: its signed root and the limits that follow from it.
//!
//! r(v) = sign(estimate - v) sqrt(2 (l - l(v)) / dispersion), with l(v) the largest log-likelihood where the contrast is v. It does
//! not depend on how the contrast is written down: a difference of 0, a ratio of 1 and an odds ratio of 1 of two rates have the same
//! r. Limits are the v at which r meets the critical value, so they leave out 0 exactly where the P value is below 1 - level.
//!
//! # References
//! Venzon and Moolgavkar (1988), Applied Statistics 37:87-94; McCullagh and Nelder (1989), section 7.2.

use super::constrained::{Reached, constrained};
use super::goal::Goal;
use super::likelihood::Likelihood;

/// The profile of one contrast.
pub(super) struct Profile<'a> {
    likelihood: &'a Likelihood,
    goal: [Goal<'a>; 1],
    best: Reached,
    dispersion: f64,
    /// The contrast at the estimates.
    pub(super) estimate: f64,
    /// Its standard error by the delta method.
    pub(super) std_error: f64,
}

const STEPS: usize = 60;
/// Fits that may fail on the way to a limit.
const REFUSALS: usize = 25;
/// A contrast that can lie this far out has no end of its own.
const UNBOUNDED: f64 = 20.0;

impl<'a> Profile<'a> {
    pub(super) fn new(
        likelihood: &'a Likelihood,
        goal: Goal<'a>,
        best: &Reached,
        covariance: &[Vec<f64>],
        dispersion: f64,
    ) -> Self {
        let at = goal.at(&best.parameters);
        let (estimate, std_error) = (at.rate, at.std_error(covariance, dispersion));
        Self { likelihood, goal: [goal], best: best.clone(), dispersion, estimate, std_error }
    }

    /// The signed root at a value, its slope, and the fit there.
    fn at(&self, value: f64, start: &[f64]) -> Option<(f64, f64, Vec<f64>)> {
        let reached = constrained(self.likelihood, &self.goal, &[value], start)?;
        let fall = (2.0 * (self.best.value - reached.value) / self.dispersion).max(0.0).sqrt();
        let root = if value > self.estimate { -fall } else { fall };
        let slope = reached.multipliers.first()? / (self.dispersion * root);
        Some((root, slope, reached.parameters))
    }

    /// The signed root at a value; none when the fit there does not settle.
    pub(super) fn root(&self, value: f64) -> Option<f64> {
        self.at(value, &self.best.parameters).map(|(root, _, _)| root)
    }

    /// Both limits for a critical value of the signed root. `root` is the signed root at 0. Infinite where there is no bound.
    pub(super) fn limits(&self, critical: f64, root: f64) -> (f64, f64) {
        // The profile is nearly straight from the estimate to 0 and beyond.
        let pace = if root.abs() > 0.3 && self.estimate != 0.0 { (self.estimate / root).abs() } else { self.std_error };
        (self.limit(critical, -1.0, pace), self.limit(critical, 1.0, pace))
    }

    fn limit(&self, critical: f64, direction: f64, pace: f64) -> f64 {
        let ends = self.goal.first().map_or((-1.0, 1.0), Goal::ends);
        let end = if direction > 0.0 { ends.1 } else { ends.0 };
        // Between `near`, where the root falls short, and `far`, where it exceeds or no fit is found.
        let (mut near, mut far) = (self.estimate, end);
        let mut start = self.best.parameters.clone();
        let mut value = self.estimate + direction * critical * pace;
        let mut refused = 0;
        for _ in 0..STEPS {
            let inside = (value - near) * direction > 0.0 && (far - value) * direction > 0.0;
            if !inside {
                value = 0.5 * (near + far);
            }
            if (far - near).abs() < 1e-10 * (1.0 + end.abs()) {
                break;
            }
            let Some((root, slope, parameters)) = self.at(value, &start) else {
                // Too far from the last fit: come nearer, then try again.
                refused += 1;
                if refused > REFUSALS {
                    return f64::NAN;
                }
                value = 0.5 * (near + value);
                continue;
            };
            let miss = root.abs() - critical;
            if miss.abs() < 1e-10 * critical {
                return value;
            }
            if miss < 0.0 {
                near = value;
                start = parameters;
            } else {
                far = value;
            }
            value -= miss / (slope.abs() * direction);
        }
        let at_end = (end - near).abs() < 1e-6 * (1.0 + end.abs());
        match at_end {
            true if end.abs() > UNBOUNDED => direction * f64::INFINITY,
            true => end,
            false => near,
        }
    }
}
