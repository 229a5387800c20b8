//! A change of a product of takes, split over its factors so that the parts add up to it.

use crate::choice::choice;

/// How a change of a product is split.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SplitMethod {
    /// In proportion to the logarithms of the factors' ratios.
    LogarithmicMean,
    /// Averaged over all orders in which the factors can change; where a factor is 0.
    AllOrders,
}

choice!(
    SplitMethod, "split of a change":
    LogarithmicMean = "logarithmic-mean",
    AllOrders = "all-orders",
);

/// The parts of a change of a product; they add up to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Split {
    /// What each factor adds.
    pub parts: Vec<f64>,
    /// How it was split.
    pub method: SplitMethod,
}

/// Splits the change from the product of `before` to that of `after` over the factors, pair by pair.
///
/// With `L(y1, y0) = (y1 - y0) / ln(y1 / y0)` factor k adds `L ln(after_k / before_k)`: nothing is left over, and two steps taken
/// together get what each of them gets. Where a factor is 0 there are no logarithms; each factor then adds what its change makes,
/// averaged over all orders in which the factors can change. Factors are 0 or more.
///
/// # References
/// Ang 2004, Energy Policy 32:1131-1139; Shapley 1953.
///
/// ```
/// let found = rootling::steps::split(&[0.8, 0.6, 0.9], &[0.8, 0.5, 0.88]);
/// assert_eq!(format!("{:.2} {:.2}", 100.0 * found.parts[1], 100.0 * found.parts[2]), "-7.12 -0.88");
/// ```
#[must_use]
pub fn split(before: &[f64], after: &[f64]) -> Split {
    let pairs: Vec<(f64, f64)> = before.iter().copied().zip(after.iter().copied()).collect();
    if pairs.iter().all(|(a, b)| *a > 0.0 && *b > 0.0) {
        let logs: Vec<f64> = pairs.iter().map(|(a, b)| (b / a).ln()).collect();
        let (change, start): (f64, f64) = (logs.iter().sum(), pairs.iter().map(|pair| pair.0).product());
        // The mean of start and end by logarithms; at no change it is the start.
        let mean = if change == 0.0 { start } else { start * change.exp_m1() / change };
        return Split { parts: logs.iter().map(|one| mean * one).collect(), method: SplitMethod::LogarithmicMean };
    }
    by_orders(before, after)
}

/// The same by the mean over all orders, whatever the factors are.
pub(super) fn by_orders(before: &[f64], after: &[f64]) -> Split {
    let pairs: Vec<(f64, f64)> = before.iter().copied().zip(after.iter().copied()).collect();
    Split { parts: (0..pairs.len()).map(|at| over_orders(&pairs, at)).collect(), method: SplitMethod::AllOrders }
}

/// What the change of one factor makes of the product, averaged over all orders.
fn over_orders(pairs: &[(f64, f64)], at: usize) -> f64 {
    // Coefficient k: the sum of the products in which k of the other factors have changed.
    let mut changed = vec![1.0];
    for (_, (a, b)) in pairs.iter().enumerate().filter(|(other, _)| *other != at) {
        let later = std::iter::once(0.0).chain(changed.iter().map(|one| one * b));
        let earlier = changed.iter().map(|one| one * a).chain(std::iter::once(0.0));
        changed = later.zip(earlier).map(|(later, earlier)| later + earlier).collect();
    }
    // Of all orders a share of 1 / (n choose(n - 1, k)) has just these k ahead.
    let count = pairs.len() as f64;
    let mut share = 1.0 / count;
    let mut mean = 0.0;
    for (k, sum) in changed.iter().enumerate() {
        mean += share * sum;
        share *= (k as f64 + 1.0) / (count - 1.0 - k as f64).max(1.0);
    }
    pairs.get(at).map_or(0.0, |(a, b)| (b - a) * mean)
}
