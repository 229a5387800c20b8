//! The tray correlation by analysis of variance, with limits from F.

use serde::{Deserialize, Serialize};

use crate::math::distributions::fisher_f;
use crate::rates::{Arm, tray_spread};

/// The tray correlation by analysis of variance, pooled over treatments.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AnovaCorrelation {
    /// The correlation as computed; negative when trays are more alike than chance.
    pub value: f64,
    /// Lower limit; `None` where cuttings of one tray never differ, so that F has no denominator.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// Mean square between trays over the mean square within.
    pub f_ratio: f64,
    /// Trays minus treatments.
    pub df: f64,
    /// Cuttings minus trays.
    pub df_within: f64,
    /// The tray size `m0` that stands for unequal trays.
    pub size: f64,
}

/// The correlation `(F - 1) / (F + m0 - 1)` with limits from the F distribution at `level`.
///
/// With `F` the mean square between trays of one treatment over the mean square within trays, on `K - A` and `N - K` degrees of
/// freedom, the limits put `F / F(upper quantile)` and `F / F(lower quantile)` in the place of `F`. Exact for equal trays of
/// normal values; for counts, and for unequal trays through `m0`, an approximation. `None` when no treatment has two trays,
/// every tray holds one cutting or nothing varies.
///
/// # References
/// Searle SR (1971), Linear Models, Wiley, section 9.8 (from memory); Donner A (1986), Int. Stat. Rev. 54:67-82.
///
/// ```
/// use rootling::rates::{Arm, anova_correlation};
/// let arms = [Arm { rooted: vec![3, 9, 6], stuck: vec![20, 20, 20] }];
/// let found = anova_correlation(&arms, 0.95).ok_or("one tray only")?;
/// assert!(found.low < Some(found.value) && Some(found.value) < found.high);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn anova_correlation(arms: &[Arm], level: f64) -> Option<AnovaCorrelation> {
    let spread = tray_spread(arms)?;
    let filled = || arms.iter().filter(|arm| !arm.stuck.is_empty());
    let cuttings: f64 = filled().map(|arm| arm.total().1).sum();
    let trays: f64 = filled().map(|arm| arm.stuck.len() as f64).sum();
    let varies = filled().any(|arm| arm.rate() > 0.0 && arm.rate() < 1.0);
    let (df, dof_within) = (spread.df, cuttings - trays);
    if dof_within < 1.0 || !varies {
        return None;
    }
    let size = (cuttings - filled().map(Arm::mean_size).sum::<f64>()) / df;
    let f_ratio = (1.0 + (size - 1.0) * spread.icc) / (1.0 - spread.icc);
    let at = |f: f64| (f - 1.0) / (f + size - 1.0);
    let tail = (1.0 - level) / 2.0;
    let limit = |p: f64| f_ratio.is_finite().then(|| at(f_ratio / fisher_f::quantile(p, df, dof_within)));
    // Where trays differ by nothing at all the three are one number, which rounding must not part.
    Some(AnovaCorrelation {
        value: spread.icc,
        low: limit(1.0 - tail).map(|low| low.min(spread.icc)),
        high: limit(tail).map(|high| high.max(spread.icc)),
        f_ratio,
        df,
        df_within: dof_within,
        size,
    })
}
