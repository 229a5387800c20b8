//! What earlier trials of the place tell of how trays, bays and plants differ.
//!
//! Each earlier trial gives a mean square per layer, translated into what that layer's spread would make of the present layout. True
//! spreads differ from trial to trial, so the logarithms of these mean squares vary by more than their degrees of freedom explain; what
//! is left over is the variance of the true ones. It and the uncertainty of their mean give a scaled inverse chi-square law of the present
//! mean square, with a prior value and degrees of freedom of its own, and the present mean square is averaged with it by degrees of
//! freedom. Nothing is tested first: a pooling that depends on a passed test alarms too often.

use serde::{Deserialize, Serialize};
use statrs::function::gamma::digamma;

use crate::math::distributions::fisher_f;
use crate::math::search::brent;
use crate::math::special::trigamma;

/// Variance of the logarithm of a true mean square from trial to trial where nothing is known of it: spreads that differ by a factor
/// of two, as trials do (`tests/calibration/earlier.md`).
const USUAL_VARIANCE: f64 = 0.49;
/// Trials that this counts as, beside those at hand.
const USUAL_TRIALS: f64 = 2.0;
/// With fewer earlier trials the usual variance is the least that is used.
const ENOUGH_TRIALS: usize = 3;

/// The name under which the spread of trays is kept.
pub const TRAY: &str = "tray";

/// A mean square of one trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Known {
    /// The column of the units, "tray" for trays.
    pub unit: String,
    /// What the column was recorded as: `whole_plot`, `block`, `season`, `stock_plant` or `tray`.
    pub role: String,
    /// True where the totals of units were taken as they stand, without the trays beneath.
    pub totals: bool,
    /// Mean square over the variance of one cutting.
    pub mean_square: f64,
    /// What it would be on average if units of this kind did not differ.
    pub beneath: f64,
    /// Cuttings per unit: what the variance of units is multiplied by.
    pub cuttings: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl Known {
    /// Of a layer as it is estimated, its role still to be named.
    pub(super) fn of(unit: &str, (mean_square, beneath): (f64, f64), cuttings: f64, df: f64) -> Self {
        let role = if unit == TRAY { TRAY } else { "" }.to_owned();
        Self { unit: unit.to_owned(), role, totals: false, mean_square, beneath, cuttings, df }
    }
}

/// What earlier trials tell.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Earlier {
    /// Fingerprints of the trials, in the order given.
    pub trials: Vec<String>,
    /// Their mean squares.
    pub known: Vec<Known>,
}

/// The mean square of one layer of the present trial with what earlier trials add.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Shrunk {
    /// The column of the units.
    pub unit: String,
    /// Earlier trials that tell of it.
    pub trials: usize,
    /// The present mean square over the variance of one cutting.
    pub own: f64,
    /// Its degrees of freedom.
    pub own_df: f64,
    /// What earlier trials lead to expect.
    pub expected: f64,
    /// The degrees of freedom that this counts as.
    pub earlier_df: f64,
    /// The mean square that is used.
    pub used: f64,
    /// The degrees of freedom of that.
    pub df: f64,
    /// True where the present trial differs from the earlier ones by more than 19 in 20 trials would.
    pub differs: bool,
}

impl Earlier {
    /// Several trials together; none without any.
    #[must_use]
    pub fn joined(each: &[Self]) -> Option<Self> {
        let all = Self {
            trials: each.iter().flat_map(|one| one.trials.clone()).collect(),
            known: each.iter().flat_map(|one| one.known.clone()).collect(),
        };
        (!all.known.is_empty()).then_some(all)
    }

    /// The mean square of the present trial, averaged by degrees of freedom with what earlier trials lead to expect; none where they tell
    /// nothing of such units, or where the present trial has no degree of freedom for them.
    ///
    /// With `M_j` the mean square of trial `j` for the present layout, `d_j` its degrees of freedom there and
    /// `e_j = ln M_j - psi(d_j / 2) + ln(d_j / 2)`: the variance of true logarithms is `(2 x 0.49 + (J - 1) t) / (J + 1)` with `t` the variance of `e_j` less the mean of
    /// `trigamma(d_j / 2)`, at least 0 (with fewer than three trials at least 0.49), and `trigamma(d_0 / 2)` is that variance plus the
    /// variance of the mean of `e_j`. So `d_0` is finite however many trials there are.
    ///
    /// # References
    /// Smyth (2004), Statistical Applications in Genetics and Molecular Biology 3:3, sections 5 and 6.2; Lönnstedt and Speed (2002),
    /// Statistica Sinica 12:31-46; Bancroft (1944), Annals of Mathematical Statistics 15:190-204 (on tests before pooling).
    ///
    /// ```
    /// use rootling::layers::{Earlier, Known};
    /// let bays = |mean_square, df| Known {
    ///     unit: "bay".into(), role: "whole_plot".into(), totals: false, mean_square, beneath: 1.0, cuttings: 80.0, df,
    /// };
    /// let trials = vec!["a".to_owned(), "b".to_owned(), "c".to_owned()];
    /// let earlier = Earlier { trials, known: vec![bays(4.0, 4.0), bays(2.5, 4.0), bays(6.0, 4.0)] };
    /// // Two bays per length: two degrees of freedom of their own, 4.6 more from earlier trials.
    /// let shrunk = earlier.shrunk(&bays(1.2, 2.0)).ok_or("nothing known")?;
    /// approx::assert_relative_eq!(shrunk.earlier_df, 4.6, epsilon = 0.0, max_relative = 0.021);
    /// approx::assert_relative_eq!(shrunk.df - shrunk.earlier_df, 2.0, epsilon = 0.0, max_relative = 5e-13);
    /// assert!(shrunk.used > 1.2 && shrunk.used < shrunk.expected);
    /// # Ok::<(), &str>(())
    /// ```
    #[must_use]
    pub fn shrunk(&self, own: &Known) -> Option<Shrunk> {
        if own.df < 0.5 || own.cuttings <= 0.0 {
            return None;
        }
        let told: Vec<(f64, f64)> = self
            .known
            .iter()
            .filter(|one| one.unit == own.unit && one.totals == own.totals && one.df > 0.5 && one.cuttings > 0.0)
            .map(|one| translated(one, own))
            .collect();
        let (expected, earlier_df) = law(&told)?;
        let df = own.df + earlier_df;
        let used = (own.df * own.mean_square + earlier_df * expected) / df;
        let ratio = own.mean_square / expected;
        let tail = fisher_f::sf(ratio, own.df, earlier_df);
        Some(Shrunk {
            unit: own.unit.clone(),
            trials: told.len(),
            own: own.mean_square,
            own_df: own.df,
            expected,
            earlier_df,
            used,
            df,
            differs: !(0.025..=0.975).contains(&tail),
        })
    }
}

/// The mean square and degrees of freedom that the spread seen in an earlier trial has in the present layout.
fn translated(one: &Known, own: &Known) -> (f64, f64) {
    let by = own.cuttings / one.cuttings;
    let mean = own.beneath + by * (one.mean_square - one.beneath).max(0.0);
    // What the earlier trial's mean square is at least on average keeps chance from making it certain.
    let share = mean / (by * one.mean_square.max(one.beneath));
    (mean, one.df * share * share)
}

/// Value and degrees of freedom of the scaled inverse chi-square law of a further true mean square.
fn law(told: &[(f64, f64)]) -> Option<(f64, f64)> {
    if told.is_empty() {
        return None;
    }
    let count = told.len() as f64;
    let errors: Vec<f64> = told.iter().map(|(_, df)| trigamma(0.5 * df)).collect();
    let logs: Vec<f64> = told.iter().map(|(mean, df)| mean.ln() - digamma(0.5 * df) + (0.5 * df).ln()).collect();
    let mean = logs.iter().sum::<f64>() / count;
    let excess = if told.len() > 1 {
        let seen = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / (count - 1.0);
        (seen - errors.iter().sum::<f64>() / count).max(0.0)
    } else {
        0.0
    };
    let pooled = (USUAL_TRIALS * USUAL_VARIANCE + (count - 1.0) * excess) / (USUAL_TRIALS + count - 1.0);
    let between = if told.len() < ENOUGH_TRIALS { pooled.max(USUAL_VARIANCE) } else { pooled };
    let weights = || errors.iter().map(|error| 1.0 / (between + error));
    let total: f64 = weights().sum();
    let centre = weights().zip(&logs).map(|(weight, log)| weight * log).sum::<f64>() / total;
    let df = 2.0 * half_df(between + 1.0 / total)?;
    Some(((centre + digamma(0.5 * df) - (0.5 * df).ln()).exp(), df))
}

/// `x` with `trigamma(x) = variance`.
fn half_df(variance: f64) -> Option<f64> {
    let found = brent(|log| trigamma(log.exp()).ln() - variance.ln(), -12.0, 14.0, 1e-12).ok()?;
    Some(found.exp())
}
