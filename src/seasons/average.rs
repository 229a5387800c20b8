//! The average over seasons, and the test of whether seasons differ.

use super::between::{paule_mandel, scatter};
use super::measured::{Measured, critical, weighted};
use crate::math::distributions::fisher_f;

/// An average over seasons with limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Average {
    /// The average difference.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
    /// Degrees of freedom of its limits.
    pub df: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Variance between seasons that its weights have.
    pub spread_squared: f64,
}

/// The average over these very seasons, each counted alike: the mean of their differences, judged by their own errors with degrees of
/// freedom after Satterthwaite. It says nothing of others.
///
/// # References
/// Satterthwaite 1946.
///
/// ```
/// use rootling::seasons::{Measured, average_of_these};
/// let found = average_of_these(&[Measured { value: 0.1, variance: 0.01, df: 8.0 }, Measured { value: 0.3, variance: 0.01, df: 8.0 }], 0.95);
/// approx::assert_relative_eq!(found.df, 16.0, max_relative = 1e-12);
/// ```
#[must_use]
pub fn average_of_these(seasons: &[Measured], confidence: f64) -> Average {
    let count = seasons.len() as f64;
    let value = seasons.iter().map(|one| one.value).sum::<f64>() / count;
    let total: f64 = seasons.iter().map(|one| one.variance).sum();
    let doubt: f64 = seasons.iter().map(|one| one.variance * one.variance / one.df).sum();
    let (se, df) = (total.sqrt() / count, if doubt > 0.0 { total * total / doubt } else { f64::INFINITY });
    let reach = critical(confidence, df) * se;
    Average { value, se, df, low: value - reach, high: value + reach, spread_squared: 0.0 }
}

/// The average as if no season differed from another: weights 1 / v, with what estimated weights add to its variance (Meier) and degrees of
/// freedom after Satterthwaite. No average over seasons has narrower limits than this one.
///
/// # References
/// Meier 1953, Biometrics 9: 59-73; Satterthwaite 1946.
///
/// ```
/// use rootling::seasons::{Measured, average_as_one};
/// let alike = [0.1, 0.3].map(|value| Measured { value, variance: 0.01, df: 8.0 });
/// let found = average_as_one(&alike, 0.95);
/// // 1 / 200 for known variances, and 4 / 200^2 (100 100 / 8 + 100 100 / 8) of that for estimated ones.
/// approx::assert_relative_eq!(found.se * found.se, 0.005 * 1.25, max_relative = 1e-12);
/// assert_eq!(found.df, 16.0);
/// ```
#[must_use]
pub fn average_as_one(seasons: &[Measured], confidence: f64) -> Average {
    let (value, total) = weighted(seasons, 0.0);
    let (mut more, mut doubt) = (0.0, 0.0);
    for season in seasons {
        let weight = 1.0 / season.variance;
        more += weight * (total - weight) / season.df;
        doubt += weight * weight / season.df;
    }
    let variance = (1.0 + 4.0 * more / (total * total)) / total;
    let (se, df) = (variance.sqrt(), if doubt > 0.0 { total * total / doubt } else { f64::INFINITY });
    let reach = critical(confidence, df) * se;
    Average { value, se, df, low: value - reach, high: value + reach, spread_squared: 0.0 }
}

/// The average over seasons taken as drawn from many: weights `1 / (v + t)` with `t` by [`paule_mandel`], limits of Hartung and Knapp with t
/// on seasons less one, never narrower than those of [`average_as_one`].
///
/// # References
/// Hartung and Knapp 2001; Sidik and Jonkman 2002; `IntHout`, Ioannidis and Borm 2014.
///
/// ```
/// use rootling::seasons::{Measured, average_over};
/// let found = average_over(&[0.05, 0.12, 0.2].map(|value| Measured { value, variance: 0.002, df: 10.0 }), 0.95);
/// assert!(found.low < 0.05 && found.high > 0.2);
/// ```
#[must_use]
pub fn average_over(seasons: &[Measured], confidence: f64) -> Average {
    let spread_squared = paule_mandel(seasons);
    let (value, total) = weighted(seasons, spread_squared);
    let df = seasons.len() as f64 - 1.0;
    let scale = scatter(seasons, spread_squared).0 / df;
    let as_one = average_as_one(seasons, confidence);
    let critical = critical(confidence, df);
    let reach = (critical * (scale / total).sqrt()).max(0.5 * (as_one.high - as_one.low));
    Average { value, se: reach / critical, df, low: value - reach, high: value + reach, spread_squared }
}

/// Whether the difference changes between seasons: Welch's test of means whose variances are estimated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonTest {
    /// F.
    pub statistic: f64,
    /// Seasons less one.
    pub df: f64,
    /// Degrees of freedom of the errors; infinite where variances are known.
    pub error_df: f64,
    /// P value.
    pub p: f64,
}

/// Tests treatment x season: Cochran's Q, judged as F with what the small degrees of freedom of the variances ask for.
///
/// # References
/// Cochran 1937; Welch 1951, Biometrika 38: 330-336.
///
/// ```
/// use rootling::seasons::{Measured, season_test};
/// // Two seasons: Welch's t, squared.
/// let found = season_test(&[Measured { value: 0.1, variance: 0.01, df: 8.0 }, Measured { value: 0.4, variance: 0.02, df: 6.0 }]);
/// approx::assert_relative_eq!(found.statistic, 0.09 / 0.03, max_relative = 1e-12);
/// approx::assert_relative_eq!(found.error_df, 0.0009 / (0.0001 / 8.0 + 0.0004 / 6.0), max_relative = 1e-12);
/// ```
#[must_use]
pub fn season_test(seasons: &[Measured]) -> SeasonTest {
    let (_, total) = weighted(seasons, 0.0);
    let count = seasons.len() as f64;
    let doubt: f64 = seasons.iter().map(|one| (1.0 - 1.0 / (one.variance * total)).powi(2) / one.df).sum();
    let df = count - 1.0;
    let between = scatter(seasons, 0.0).0 / df;
    let statistic = between / (1.0 + 2.0 * (count - 2.0) / (count * count - 1.0) * doubt);
    let error_df = if doubt > 0.0 { (count * count - 1.0) / (3.0 * doubt) } else { f64::INFINITY };
    let p = if error_df.is_finite() {
        fisher_f::sf(statistic, df, error_df)
    } else {
        crate::math::distributions::chi_squared::sf(statistic * df, df)
    };
    SeasonTest { statistic, df, error_df, p }
}
