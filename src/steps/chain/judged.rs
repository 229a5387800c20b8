//! How well a combination of takes is known from how batches differ, with few batches, of unlike sizes, near 0 and 100 %.

use crate::math::distributions::chi_squared;

/// Correlation of two plants of one batch that batches with hardly any event are taken to have, before any event is seen.
const UNSEEN: f64 = 0.02;
/// Largest correlation that a law of counts is worked with.
const LARGEST: f64 = 0.9;

/// One batch's part of a combination.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::steps) struct Part {
    /// The set of batches within which it is compared: all, or those of its season.
    pub(in crate::steps) group: usize,
    /// What it adds to the combination beyond what is expected of it.
    pub(in crate::steps) residual: f64,
    /// Its share of the variance of plants that stand alone; shares add up to 1.
    pub(in crate::steps) share: f64,
}

/// What is combined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::steps) struct Rate {
    /// The rate.
    pub(in crate::steps) value: f64,
    /// Plants that it is of.
    pub(in crate::steps) plants: f64,
    /// Its variance if each plant stood alone.
    pub(in crate::steps) alone: f64,
}

/// How well a combination is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::steps) struct Judged {
    /// Its variance.
    pub(in crate::steps) variance: f64,
    /// Degrees of freedom of that.
    pub(in crate::steps) df: f64,
    /// Plants that would vary as much if each stood alone.
    pub(in crate::steps) effective: f64,
}

/// Judges a combination by its batches.
///
/// Residuals `u_b` about their group are divided by `sqrt(1 - h_b)`, where `h_b` is a batch's share of its group, so that the sum of
/// squares has the right mean where plants stand alone. Its degrees of freedom are Satterthwaite's under the same, less where the counts
/// of a batch have long tails (their kurtosis under a beta-binomial law of the correlation found). The variance is never below that of
/// plants alone, nor of a correlation of 0.02 before events are seen (`2 / (2 + events)` of it after), and has the degrees of
/// freedom that a mean square has which cannot fall below 1.
///
/// # References
/// Bell and `McCaffrey` 2002, Survey Methodology 28:169-181; Satterthwaite 1946.
pub(in crate::steps) fn judged(parts: &[Part], rate: Rate) -> Judged {
    let groups = groups(parts);
    let share_of = |part: &Part| groups.get(part.group).map_or(0.0, |group| part.share / group.share);
    let (mut square, mut own) = (0.0, 0.0);
    let mut across = vec![(0.0, 0.0); groups.len()];
    for part in parts {
        let of = share_of(part);
        let raised = 1.0 / (1.0 - of).max(1e-9);
        square += part.residual * part.residual * raised;
        own += part.share * part.share;
        if let Some(sums) = across.get_mut(part.group) {
            let one = part.share * of * raised;
            *sums = (sums.0 + one, sums.1 + one * one);
        }
    }
    let others: f64 = across.iter().map(|(sum, squares)| sum * sum - squares).sum();
    let free = 1.0 / (own + others);
    let size = rate.plants * own;
    let events = (rate.plants * rate.value.min(1.0 - rate.value)).max(0.0);
    let least = 1.0 + (size - 1.0).max(0.0) * UNSEEN * 2.0 / (2.0 + events);
    let found = if rate.alone > 0.0 { square / rate.alone } else { 0.0 };
    let correlation = ((found.max(least) - 1.0) / (size - 1.0).max(1e-9)).clamp(0.0, LARGEST);
    let tails = kurtosis(size, rate.value, correlation).max(3.0);
    let df = held_df(found.max(1.0), (free * 2.0 / (tails - 1.0)).max(1.0));
    let variance = square.max(rate.alone * least);
    let varies = rate.value * (1.0 - rate.value);
    let plants = rate.plants / least;
    let effective = if variance > 0.0 && varies > 0.0 { (varies / variance).min(plants) } else { plants };
    Judged { variance, df, effective }
}

/// A set of batches.
#[derive(Debug, Clone, Copy, Default)]
struct Group {
    share: f64,
}

fn groups(parts: &[Part]) -> Vec<Group> {
    let count = parts.iter().map(|part| part.group + 1).max().unwrap_or_default();
    let mut found = vec![Group::default(); count];
    for part in parts {
        if let Some(group) = found.get_mut(part.group) {
            group.share += part.share;
        }
    }
    found
}

/// Degrees of freedom of a mean square that has `df` and is held at 1 where it falls below, at a true size of `size`: twice its squared
/// mean over its variance.
fn held_df(size: f64, df: f64) -> f64 {
    let cut = df / size;
    let above = |more: f64| chi_squared::sf(cut, df + more);
    let below = 1.0 - above(0.0);
    let mean = size * above(2.0) + below;
    let square = size * size * (df + 2.0) / df * above(4.0) + below;
    (2.0 * mean * mean / (square - mean * mean).max(1e-9)).max(df)
}

/// The kurtosis of a beta-binomial count of `n`; 3 where it has none.
///
/// # References
/// Johnson, Kemp and Kotz 2005, Univariate Discrete Distributions, section 6.9.2.
fn kurtosis(n: f64, rate: f64, correlation: f64) -> f64 {
    if !(rate > 0.0 && rate < 1.0 && n > 1.0) {
        return 3.0;
    }
    let both = (1.0 - correlation.max(1e-6)) / correlation.max(1e-6);
    let (a, b) = (rate * both, (1.0 - rate) * both);
    let scale = both * both * (1.0 + both) / (n * a * b * (both + 2.0) * (both + 3.0) * (both + n));
    let product = a * b;
    scale
        * (both * (both - 1.0 + 6.0 * n) + 3.0 * product * (n - 2.0) + 6.0 * n * n
            - 3.0 * product * n * (6.0 - n) / both
            - 18.0 * product * n * n / (both * both))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kurtosis_of_counts() {
        // scipy.stats.betabinom moments summed over its pmf: n 40, take .98, correlation .1; n 20, take .9, correlation .02.
        assert!((kurtosis(40.0, 0.98, 0.1) - 23.996_114_308).abs() < 1e-6);
        assert!((kurtosis(20.0, 0.9, 0.02) - 3.849_259_696).abs() < 1e-6);
    }

    #[test]
    fn batches_alike_in_size_have_one_degree_of_freedom_less() {
        let parts: Vec<Part> =
            [0.1, -0.2, 0.3, -0.1, -0.1].into_iter().map(|residual| Part { group: 0, residual, share: 0.2 }).collect();
        // Far above what plants alone make, so nothing is held: the mean square of five with four degrees of freedom (0.16 x 5 / 4),
        // of which the tails leave some.
        let found = judged(&parts, Rate { value: 0.5, plants: 1e9, alone: 1e-9 });
        assert!((found.variance - 0.2).abs() < 1e-12);
        assert!((held_df(1e9, 4.0) - 4.0).abs() < 1e-6);
        // Held at 1, a mean square is known better.
        assert!(held_df(1.0, 4.0) > 10.0);
    }
}
