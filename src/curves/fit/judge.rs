//! What curves are judged by.

use crate::math::distributions::{chi_squared, fisher_f, normal, student_t};

/// What the curves of one group are judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Judge {
    /// Degrees of freedom of the spread between trays; `None` where it is taken as known.
    pub(crate) df: Option<f64>,
    /// Units that carry information: trays (less the shifts of blocks that are taken out), or cuttings where they are counted one by one.
    pub(crate) n_obs: f64,
    /// What places add to the variance of the level, log odds; 0 where takes hold for the places at hand. It is stretched so that the critical
    /// value of trays gives the reach that the places' own degrees of freedom ask for (`level`).
    pub(crate) level_variance: f64,
}

impl Judge {
    /// A standard error of a take's log odds over bays as well.
    pub(crate) fn spread_over_bays(&self, se: f64) -> f64 {
        if self.level_variance > 0.0 { se.hypot(self.level_variance.sqrt()) } else { se }
    }

    /// Of so many effective cuttings with this take: how many say as much over bays.
    pub(crate) fn over_bays(&self, take: f64, cuttings: f64) -> f64 {
        if self.level_variance > 0.0 {
            let take = (take * cuttings + 0.5) / (cuttings + 1.0);
            cuttings / (1.0 + self.level_variance * cuttings * take * (1.0 - take))
        } else {
            cuttings
        }
    }

    /// The two-sided critical value.
    pub(crate) fn critical(&self, level: f64) -> f64 {
        let p = f64::midpoint(1.0, level);
        self.df.map_or_else(|| normal::quantile(p), |df| student_t::quantile(p, df))
    }

    /// The confidence level with this critical value.
    pub(crate) fn level_of(&self, critical: f64) -> f64 {
        let below = self.df.map_or_else(|| normal::cdf(critical), |df| student_t::cdf(critical, df));
        2.0 * below - 1.0
    }

    /// Upper tail of a likelihood ratio with `df` degrees of freedom.
    pub(crate) fn tail(&self, ratio: f64, df: f64) -> f64 {
        let ratio = ratio.max(0.0);
        self.df.map_or_else(|| chi_squared::sf(ratio, df), |below| fisher_f::sf(ratio / df, df, below))
    }
}
