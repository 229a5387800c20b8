//! Grades of trays as effective cuttings: how alike grades of one tray are, and counts divided by what that costs.

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::math::dense::{Qr, dot, times};
use crate::math::regression::GradeRows;
use crate::math::search::RANK;

/// Correlation for planning, where trays cannot show their own.
const PLANNING: f64 = 0.05;

/// The correlation of the grades of two cuttings of one tray, beyond what the effects explain.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeCorrelation {
    /// Analysis of variance estimate, as computed; negative when trays are more alike than chance.
    pub estimate: f64,
    /// The least that is used: `0.05 x 2 / (2 + events)`.
    pub floor: f64,
    /// Cuttings that do not hold the commonest grade, as fitted: what the correlation is learnt from.
    pub events: f64,
    /// Trays less what the effects take of them.
    pub df: f64,
}

impl GradeCorrelation {
    /// Analysis of variance of the trays' mean midranks about the columns of `trays`, which holds one row per tray.
    ///
    /// A grade counts as its midrank among all cuttings, a share: that is the slope of the likelihood where no effect matters. Trays' means are fitted by
    /// the columns on that scale, with cuttings as weights; the rest is as for two grades ([`crate::models::TrayCorrelation`]), whose estimate this is
    /// where there are two.
    ///
    /// # References
    /// Donner and Klar (2000), chapters 1 and 6.
    #[must_use]
    pub fn of(trays: &GradeRows) -> Self {
        let scores = midranks(&trays.by_grade());
        let sizes: Vec<f64> = trays.iter().map(|(_, _, counts)| counts.iter().sum()).collect();
        let total: f64 = sizes.iter().sum();
        let roots: Vec<f64> = sizes.iter().map(|m| m.sqrt()).collect();
        let mut columns = vec![roots.clone()];
        for at in 0..trays.width() {
            columns.push(trays.column(at).iter().zip(&roots).map(|(x, root)| x * root).collect());
        }
        let qr = Qr::new(&columns, RANK);
        let kept: Vec<Vec<f64>> = qr.kept.iter().filter_map(|at| columns.get(*at)).cloned().collect();
        // Fitted values are on the scale of the weighted columns.
        let fitted = |target: &[f64]| times(&kept, &qr.solve_upper(&qr.project(target)), sizes.len());
        let means: Vec<f64> = trays.iter().zip(&sizes).map(|((_, _, counts), m)| dot(counts, &scores) / m).collect();
        let weighted: Vec<f64> = means.iter().zip(&roots).map(|(mean, root)| mean * root).collect();
        let off: f64 = weighted.iter().zip(fitted(&weighted)).map(|(y, fit)| (y - fit).powi(2)).sum();
        let spread = |(counts, mean): (&[f64], &f64)| -> f64 {
            counts.iter().zip(&scores).map(|(n, score)| n * (score - mean).powi(2)).sum()
        };
        let inside: f64 = trays.iter().zip(&means).map(|((_, _, counts), mean)| spread((counts, mean))).sum();
        let events = rarer(trays, &sizes, fitted);
        let df = sizes.len() as f64 - qr.rank() as f64;
        let left: f64 = sizes.iter().zip(qr.hat(sizes.len())).map(|(m, h)| m * (1.0 - h)).sum();
        // Rounding leaves a trace where every tray fits exactly.
        let between = if off < 1e-12 * total || df < 0.5 { 0.0 } else { off / df };
        let cuttings = total - sizes.len() as f64;
        let within = if cuttings > 0.0 { inside / cuttings } else { 0.0 };
        let whole = between + (left / df - 1.0) * within;
        let estimate = if df > 0.5 && whole > 0.0 { (between - within) / whole } else { 0.0 };
        Self { estimate, floor: PLANNING * 2.0 / (2.0 + events), events, df }
    }

    /// The correlation used: never below 0 nor below the floor.
    #[must_use]
    pub fn used(&self) -> f64 {
        self.estimate.max(self.floor).clamp(0.0, 1.0)
    }
}

/// Cuttings that do not hold the commonest grade of their row, as the columns fit shares.
fn rarer(trays: &GradeRows, sizes: &[f64], fitted: impl Fn(&[f64]) -> Vec<f64>) -> f64 {
    let mut commonest = vec![0.0_f64; sizes.len()];
    for grade in 0..trays.grades() {
        let target: Vec<f64> = trays
            .iter()
            .zip(sizes)
            .map(|((_, _, counts), m)| counts.get(grade).copied().unwrap_or(0.0) / m.sqrt())
            .collect();
        for ((most, fit), m) in commonest.iter_mut().zip(fitted(&target)).zip(sizes) {
            *most = most.max((fit / m.sqrt()).clamp(0.0, 1.0));
        }
    }
    sizes.iter().zip(commonest).map(|(m, most)| m * (1.0 - most)).sum()
}

/// Midranks of the grades as shares of all cuttings.
pub(crate) fn midranks(by_grade: &[f64]) -> Vec<f64> {
    let total: f64 = by_grade.iter().sum();
    let mut below = 0.0;
    let mut rank = |n: &f64| {
        let middle = (below + n / 2.0) / total;
        below += n;
        middle
    };
    by_grade.iter().map(&mut rank).collect()
}

/// The counts of every tray divided by its design effect `1 + (m - 1) icc`; trays with the same columns are one row.
///
/// # Errors
/// None that counts of trays can cause.
///
/// # References
/// Williams (1982), Applied Statistics 31:144-148.
pub fn effective_grades(trays: &GradeRows, icc: f64) -> Result<GradeRows> {
    let mut rows: Vec<(&crate::math::design::Entries, Vec<f64>)> = Vec::new();
    let key = |x: &crate::math::design::Entries| -> Vec<(usize, u64)> {
        x.iter().map(|(at, value)| (*at, value.to_bits())).collect()
    };
    let mut places: ahash::AHashMap<Vec<(usize, u64)>, usize> = ahash::AHashMap::new();
    for (x, _, counts) in trays.iter() {
        let m: f64 = counts.iter().sum();
        let effect = 1.0 + (m - 1.0) * icc;
        let place = *places.entry(key(x)).or_insert_with(|| {
            rows.push((x, vec![0.0; trays.grades()]));
            rows.len() - 1
        });
        if let Some((_, sums)) = rows.get_mut(place) {
            sums.iter_mut().zip(counts).for_each(|(sum, n)| *sum += n / effect);
        }
    }
    let x = rows.iter().map(|(x, _)| (*x).clone()).collect();
    let counts = rows.into_iter().flat_map(|(_, counts)| counts).collect();
    GradeRows::new(trays.width(), trays.grades(), x, counts)
}
