//! Observed against expected rates in groups of trays (or cuttings) with like expectations.

use serde::{Deserialize, Serialize};

use super::view::View;
use crate::math::distributions::chi_squared;

/// Counts whose expected rates lie together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CalibrationGroup {
    /// Lowest expected rate.
    pub fitted_low: f64,
    /// Highest expected rate.
    pub fitted_high: f64,
    /// Trays (or counts).
    pub n_units: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings expected to root.
    pub expected: f64,
    /// Standard deviation of the number rooted under the model.
    pub deviation: f64,
}

/// The test of a model for single cuttings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HosmerLemeshow {
    /// `sum (O - E)^2 / (E (1 - E / n))` over the groups.
    pub statistic: f64,
    /// Groups minus 2.
    pub df: f64,
    /// Upper tail of chi-square.
    pub p: f64,
    /// Groups that were formed.
    pub groups: u64,
}

/// Expected rates this near to each other are taken as equal.
const SAME: f64 = 1e-9;

/// Groups of about equally many cuttings in order of the expected rate. Equal rates are never parted: a set of them belongs to the
/// group in which its middle cutting falls.
pub(super) fn groups(views: &[View], wanted: usize) -> Vec<CalibrationGroup> {
    let mut order: Vec<&View> = views.iter().collect();
    order.sort_by(|a, b| a.mean.total_cmp(&b.mean));
    let total: f64 = order.iter().map(|view| view.stuck).sum();
    let mut out: Vec<(usize, CalibrationGroup)> = Vec::new();
    let mut before = 0.0;
    for tied in order.chunk_by(|a, b| b.mean - a.mean <= SAME) {
        let stuck: f64 = tied.iter().map(|view| view.stuck).sum();
        let place = ((before + 0.5 * stuck) / total * wanted as f64) as usize;
        before += stuck;
        if out.last().is_none_or(|(last, _)| *last != place) {
            out.push((place, empty()));
        }
        let Some((_, group)) = out.last_mut() else { continue };
        for view in tied {
            add(group, view);
        }
    }
    out.into_iter()
        .map(|(_, mut group)| {
            group.deviation = group.deviation.sqrt();
            group
        })
        .collect()
}

fn empty() -> CalibrationGroup {
    CalibrationGroup {
        fitted_low: 1.0,
        fitted_high: 0.0,
        n_units: 0,
        stuck: 0,
        rooted: 0,
        expected: 0.0,
        deviation: 0.0,
    }
}

/// Adds a count; `deviation` holds the variance until all are in.
fn add(group: &mut CalibrationGroup, view: &View) {
    group.fitted_low = group.fitted_low.min(view.mean);
    group.fitted_high = group.fitted_high.max(view.mean);
    group.n_units += 1;
    group.stuck += view.stuck as u64;
    group.rooted += view.rooted as u64;
    group.expected += view.stuck * view.mean;
    group.deviation += view.variance;
}

/// The chi-square of the groups; none with fewer than 3 of them or where a group can hardly vary.
///
/// # References
/// Hosmer and Lemeshow (1980), Communications in Statistics A9:1043-1069.
pub(super) fn hosmer_lemeshow(groups: &[CalibrationGroup]) -> Option<HosmerLemeshow> {
    let df = groups.len().checked_sub(2).filter(|df| *df > 0)? as f64;
    let part = |group: &CalibrationGroup| {
        (group.rooted as f64 - group.expected).powi(2) / (group.expected * (1.0 - group.expected / group.stuck as f64))
    };
    let statistic: f64 = groups.iter().map(part).sum();
    statistic.is_finite().then(|| HosmerLemeshow {
        statistic,
        df,
        p: chi_squared::sf(statistic, df),
        groups: groups.len() as u64,
    })
}
