//! How trays differ beyond chance, pooled over treatments, and what that does to an interval.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::math::distributions::student_t;
use crate::rates::interval::{IntervalMethod, interval_effective};

/// The trays of one treatment: counts rooted and stuck, one entry per tray.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arm {
    /// Cuttings rooted per tray.
    pub rooted: Vec<u64>,
    /// Cuttings stuck per tray, each above 0.
    pub stuck: Vec<u64>,
}

impl Arm {
    /// Rooted and stuck over all trays.
    #[must_use]
    pub fn total(&self) -> (f64, f64) {
        (self.rooted.iter().map(|x| *x as f64).sum(), self.stuck.iter().map(|x| *x as f64).sum())
    }

    /// The take rate over all trays.
    #[must_use]
    pub fn rate(&self) -> f64 {
        let (rooted, stuck) = self.total();
        rooted / stuck
    }

    /// The take rate of each tray.
    #[must_use]
    pub fn tray_rates(&self) -> Vec<f64> {
        self.rooted.iter().zip(&self.stuck).map(|(rooted, stuck)| *rooted as f64 / *stuck as f64).collect()
    }

    /// The mean tray size as a cutting sees it, `sum(m^2) / sum(m)`.
    #[must_use]
    pub fn mean_size(&self) -> f64 {
        let squares: f64 = self.stuck.iter().map(|m| (*m as f64).powi(2)).sum();
        squares / self.total().1
    }
}

/// The spread between trays of the same treatment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TraySpread {
    /// Intraclass correlation by analysis of variance, as computed; negative when trays are more alike than chance.
    pub icc: f64,
    /// Trays minus treatments.
    pub dof: f64,
    /// Pearson chi-square of trays within treatments over `dof`; 1 is what chance gives, below 1 is underdispersion.
    /// `None` when every treatment is all rooted or none rooted.
    pub dispersion: Option<f64>,
}

/// Pools the intraclass correlation over treatments.
///
/// With `K` trays in `A` treatments, `N` cuttings: mean squares between trays `MSB` (dof `K - A`) and within trays `MSW`
/// (dof `N - K`), `m0 = (N - sum_a sum_i m_ai^2 / N_a) / (K - A)`, and `icc = (MSB - MSW) / (MSB + (m0 - 1) MSW)`.
/// `None` when no treatment has two trays. Where nothing varies at all the correlation is 0.
///
/// # References
/// Donner A, Klar N (2000), Design and Analysis of Cluster Randomization Trials, chapters 1 and 6.
///
/// ```
/// use rootling::rates::{Arm, tray_spread};
/// let arms = [Arm { rooted: vec![3, 9, 6], stuck: vec![20, 20, 20] }];
/// let spread = tray_spread(&arms).ok_or("one tray only")?;
/// assert!(spread.icc > 0.0 && spread.dof == 2.0);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn tray_spread(arms: &[Arm]) -> Option<TraySpread> {
    let arms: Vec<&Arm> = arms.iter().filter(|arm| !arm.stuck.is_empty()).collect();
    let trays: f64 = arms.iter().map(|arm| arm.stuck.len() as f64).sum();
    let dof = trays - arms.len() as f64;
    if dof < 1.0 {
        return None;
    }
    let (mut between, mut within, mut cuttings, mut size, mut pearson) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut pearson_dof = 0.0;
    for arm in &arms {
        let (_, stuck) = arm.total();
        let rate = arm.rate();
        let mut spread = 0.0;
        for (tray, m) in arm.tray_rates().into_iter().zip(&arm.stuck) {
            let m = *m as f64;
            spread += m * (tray - rate).powi(2);
            within += m * tray * (1.0 - tray);
        }
        between += spread;
        cuttings += stuck;
        size += arm.mean_size();
        if rate > 0.0 && rate < 1.0 {
            pearson += spread / (rate * (1.0 - rate));
            pearson_dof += arm.stuck.len() as f64 - 1.0;
        }
    }
    let between = between / dof;
    let within = if cuttings > trays { within / (cuttings - trays) } else { 0.0 };
    let m0 = (cuttings - size) / dof;
    let denominator = between + (m0 - 1.0) * within;
    let icc = if denominator > 0.0 { (between - within) / denominator } else { 0.0 };
    let dispersion = (pearson_dof > 0.0).then(|| pearson / pearson_dof);
    Some(TraySpread { icc, dof, dispersion })
}

impl TraySpread {
    /// The correlation used in intervals: never below 0, so that even trays never buy false precision.
    #[must_use]
    pub fn icc_used(&self) -> f64 {
        self.icc.clamp(0.0, 1.0)
    }

    /// Design effect `1 + (mean size - 1) icc` of an arm.
    #[must_use]
    pub fn design_effect(&self, arm: &Arm) -> f64 {
        1.0 + (arm.mean_size() - 1.0).max(0.0) * self.icc_used()
    }

    /// Cuttings that would say as much if each stood alone.
    #[must_use]
    pub fn effective_cuttings(&self, arm: &Arm) -> f64 {
        arm.total().1 / self.design_effect(arm)
    }

    /// The two-sided critical value of t with the trays' degrees of freedom.
    #[must_use]
    pub fn critical(&self, level: f64) -> f64 {
        student_t::quantile(f64::midpoint(1.0, level), self.dof)
    }
}

/// Interval for the take rate of one treatment in trays: a Wilson interval on the effective number of cuttings, with the t
/// quantile on trays minus treatments. The choice and its coverage stand in `tests/calibration/table.md`.
///
/// # Errors
/// A count error when the arm is empty.
///
/// # References
/// Korn EL, Graubard BI (1998), Survey Methodology 24:193-201 (effective counts); Wilson EB (1927), JASA 22:209-212.
pub fn tray_interval(arm: &Arm, spread: &TraySpread, level: f64) -> Result<(f64, f64)> {
    let effective = spread.effective_cuttings(arm);
    interval_effective(arm.rate() * effective, effective, IntervalMethod::Wilson, spread.critical(level))
}
