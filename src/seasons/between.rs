//! How far the true differences of seasons lie apart: estimates of their variance.

use super::measured::{Measured, weighted};
use crate::error::Result;
use crate::math::distributions::chi_squared;
use crate::math::search::{brent, falling_root};

/// Cochran's Q with a variance between seasons, `sum w (y - average)^2` for `w = 1 / (v + t)`, and its slope in `t`.
///
/// ```
/// use rootling::seasons::{Measured, scatter};
/// let seasons = [Measured::known(0.0, 1.0), Measured::known(2.0, 1.0)];
/// approx::assert_relative_eq!(scatter(&seasons, 1.0).0, 1.0, max_relative = 1e-15);
/// ```
#[must_use]
pub fn scatter(seasons: &[Measured], spread_squared: f64) -> (f64, f64) {
    let (average, _) = weighted(seasons, spread_squared);
    let (mut sum, mut slope) = (0.0, 0.0);
    for season in seasons {
        let weight = 1.0 / (season.variance + spread_squared);
        let part = weight * (season.value - average).powi(2);
        sum += part;
        slope -= weight * part;
    }
    (sum, slope)
}

/// The variance between seasons at which [`scatter`] is `wanted`; 0 where it is no more than that without any.
#[must_use]
pub fn spread_squared_for(seasons: &[Measured], wanted: f64) -> f64 {
    if seasons.len() < 2 || scatter(seasons, 0.0).0 <= wanted {
        return 0.0;
    }
    // Weights are at most 1 / t, so there the scatter about the plain mean is no more than wanted.
    let mean = seasons.iter().map(|one| one.value).sum::<f64>() / seasons.len() as f64;
    let most = seasons.iter().map(|one| (one.value - mean).powi(2)).sum::<f64>() / wanted;
    let within = seasons.iter().map(|one| one.variance).sum::<f64>() / seasons.len() as f64;
    let at = |t: f64| {
        let (sum, slope) = scatter(seasons, t);
        (sum - wanted, slope)
    };
    falling_root(at, 0.0, most, most - within)
}

/// The variance between seasons by Paule and Mandel: where [`scatter`] is what chance leads to expect, seasons less one.
///
/// # References
/// Paule and Mandel 1982, equation 8; `DerSimonian` and Kacker 2007.
///
/// ```
/// use rootling::seasons::{Measured, paule_mandel};
/// let seasons = [Measured::known(0.0, 1.0), Measured::known(4.0, 1.0)];
/// approx::assert_relative_eq!(paule_mandel(&seasons), 7.0, max_relative = 1e-12);
/// ```
#[must_use]
pub fn paule_mandel(seasons: &[Measured]) -> f64 {
    spread_squared_for(seasons, seasons.len() as f64 - 1.0)
}

/// The variance between seasons by restricted maximum likelihood, a referee of [`paule_mandel`].
///
/// Its score is `sum w^2 (y - average)^2 - sum w + sum w^2 / sum w` over 2; of several places where it falls through 0 the one of the largest
/// likelihood is taken.
///
/// # Errors
/// [`NumericError`](crate::error::NumericError) where the search fails.
///
/// ```
/// use rootling::seasons::{Measured, restricted_likelihood};
/// let seasons = [Measured::known(0.0, 1.0), Measured::known(4.0, 1.0)];
/// approx::assert_relative_eq!(restricted_likelihood(&seasons)?, 7.0, max_relative = 1e-9);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn restricted_likelihood(seasons: &[Measured]) -> Result<f64> {
    let mean = seasons.iter().map(|one| one.value).sum::<f64>() / seasons.len() as f64;
    let reach = seasons.iter().map(|one| (one.value - mean).powi(2)).sum::<f64>();
    if seasons.len() < 2 || reach <= 0.0 {
        return Ok(0.0);
    }
    // Above the sum of squares the score falls everywhere; below, a fine grid leaves no top out.
    let grid: Vec<f64> = (0..=400).map(|step| 2.0 * reach * (f64::from(step) / 400.0).powi(3)).collect();
    let mut best = (restricted(seasons, 0.0).0, 0.0);
    for ends in grid.windows(2) {
        let &[low, high] = ends else { continue };
        if restricted(seasons, low).1 > 0.0 && restricted(seasons, high).1 <= 0.0 {
            let top = brent(|t| restricted(seasons, t).1, low, high, 1e-15 * reach)?;
            let height = restricted(seasons, top).0;
            if height > best.0 {
                best = (height, top);
            }
        }
    }
    Ok(best.1)
}

/// Restricted log-likelihood and its slope in the variance between seasons.
fn restricted(seasons: &[Measured], spread_squared: f64) -> (f64, f64) {
    let (average, total) = weighted(seasons, spread_squared);
    let (mut twice, mut score, mut squares) = (-total.ln(), -total, 0.0);
    for season in seasons {
        let weight = 1.0 / (season.variance + spread_squared);
        let part = weight * (season.value - average).powi(2);
        twice += weight.ln() - part;
        score += weight * part;
        squares += weight * weight;
    }
    (0.5 * twice, 0.5 * (score + squares / total))
}

/// Limits of the variance between seasons where those within are known: where [`scatter`] has an upper tail of half of what
/// `confidence` leaves, and where it has a lower one.
///
/// # References
/// Viechtbauer 2007, Statistics in Medicine 26: 37-52, section 3.1.
///
/// ```
/// use rootling::seasons::{Measured, q_profile};
/// let alike = [Measured::known(0.1, 1.0), Measured::known(0.1, 1.0), Measured::known(0.2, 1.0)];
/// assert_eq!(q_profile(&alike, 0.95).0, 0.0);
/// ```
#[must_use]
pub fn q_profile(seasons: &[Measured], confidence: f64) -> (f64, f64) {
    let (df, tail) = (seasons.len() as f64 - 1.0, 0.5 * (1.0 - confidence));
    let at = |quantile: f64| spread_squared_for(seasons, quantile);
    (at(chi_squared::isf(tail, df)), at(chi_squared::quantile(tail, df)))
}
