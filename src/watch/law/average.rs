//! Run lengths of a running average, and the limit that follows from them.

use super::running::eliminate;
use crate::math::distributions::normal;
use crate::math::search::brent;

/// Cells of the chain, an odd number.
const CELLS: usize = 151;
/// Where an average that only signals below is held above, in standard deviations.
const HIGH: f64 = 6.0;

/// The mean number of standings, independent and standard normal, until a running average that gives each a share of `share` passes
/// `limit` of its own standard deviations: below, or on either side where `both` are watched. The chain starts at 0.
///
/// # References
/// Lucas and Saccucci 1990, Technometrics 32:1-12.
///
/// ```
/// // Lucas and Saccucci 1990, table 1, from memory: a share of 0.1 with 2.814 on either side.
/// let length = rootling::watch::average_run_length(0.1, 2.814, true).unwrap();
/// assert!((length - 500.0).abs() < 5.0);
/// ```
#[must_use]
pub fn average_run_length(share: f64, limit: f64, both: bool) -> Option<f64> {
    let spread = (share / (2.0 - share)).sqrt();
    let (low, high) = (-limit * spread, if both { limit } else { HIGH } * spread);
    let width = (high - low) / CELLS as f64;
    let middle = |cell: usize| low + (cell as f64 + 0.5) * width;
    // The cell of 0 first: its length is wanted.
    let start = (((0.0 - low) / width) as usize).min(CELLS - 1);
    let order: Vec<usize> = std::iter::once(start).chain((0..CELLS).filter(|cell| *cell != start)).collect();
    let mut a = vec![0.0; CELLS * CELLS];
    for (from, row) in order.iter().zip(a.chunks_exact_mut(CELLS)) {
        let kept = (1.0 - share) * middle(*from);
        for (to, entry) in order.iter().zip(row) {
            let end = |edge: f64| normal::cdf((edge - kept) / share);
            // Held above: what passes the highest cell of an average that signals below alone stays in it.
            let top = if !both && *to == CELLS - 1 { 1.0 } else { end(middle(*to) + 0.5 * width) };
            let p = top - end(middle(*to) - 0.5 * width);
            *entry = f64::from(u8::from(from == to)) - p;
        }
    }
    let mut b = vec![1.0; CELLS];
    eliminate(&mut a, &mut b).filter(|length| length.is_finite() && *length >= 1.0)
}

/// The limit below which such an average passes once in so many standings by chance.
#[must_use]
pub fn average_limit(share: f64, wanted: f64) -> f64 {
    let short = |limit: f64| average_run_length(share, limit, false).map_or(1.0, |length| (length / wanted).ln());
    brent(short, 0.0, 6.0, 1e-4).unwrap_or(3.0)
}
