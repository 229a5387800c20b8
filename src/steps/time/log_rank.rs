//! Which of two groups is sooner: what was seen and what one common pace would have given, by visit.

use super::table::{Cell, Ending};
use crate::math::distributions::chi_squared;

/// The log-rank test of two groups of plants that stand alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRank {
    /// Ends seen in each group.
    pub observed: [f64; 2],
    /// Ends that one common pace would have given each.
    pub expected: [f64; 2],
    /// The variance of `observed - expected`.
    pub variance: f64,
    /// Chi-square on one degree of freedom.
    pub statistic: f64,
    /// Its P value.
    pub p: f64,
}

/// Compares two groups by the number at risk and the ends between visits: `sum (d2 - n2 d / n)`, with the variance
/// `sum d (n1 / n) (n2 / n) (n - d) / (n - 1)`. Several pairs are strata. None where nothing could happen in both.
///
/// # References
/// Mantel 1966, Cancer Chemother. Rep. 50:163-170; Peto and Peto 1972, J. R. Statist. Soc. A 135:185-207.
#[must_use]
pub fn log_rank(strata: &[[Vec<Cell>; 2]], ending: Ending) -> Option<LogRank> {
    let (mut observed, mut expected, mut variance) = ([0.0; 2], [0.0; 2], 0.0);
    for [first, second] in strata {
        for (one, two) in first.iter().zip(second) {
            let (n, d) = (one.at_risk + two.at_risk, one.of(ending) + two.of(ending));
            if n <= 0.0 {
                continue;
            }
            observed[0] += one.of(ending);
            observed[1] += two.of(ending);
            expected[0] += one.at_risk * d / n;
            expected[1] += two.at_risk * d / n;
            if n > 1.0 {
                variance += d * (one.at_risk / n) * (two.at_risk / n) * (n - d) / (n - 1.0);
            }
        }
    }
    let statistic = (observed[1] - expected[1]).powi(2) / variance;
    (variance > 0.0).then(|| LogRank { observed, expected, variance, statistic, p: chi_squared::sf(statistic, 1.0) })
}

/// What a tray has more than the common pace of its stratum gives it: `sum (d_i - n_i d / n)`.
pub(super) fn tray_score(tray: &[Cell], whole: &[Cell], ending: Ending) -> f64 {
    tray.iter().zip(whole).map(|(own, all)| own.of(ending) - own.at_risk * all.share(ending)).sum()
}
