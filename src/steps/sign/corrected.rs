//! Sensitivity and specificity where some plants of a side were taken away irrespective of outlook.

use super::numbers::SignQuestion;
use super::sums::Sums;
use crate::math::distributions::normal;
use crate::steps::without_one::{limits, standard_error};

/// Limits of a rate or ratio of plants filled up by those read on their side; None where it has no odds or no standard error.
///
/// With trays by leaving out one after the other, on the logit of a rate or the logarithm of a ratio, with t on trays less one. Without
/// trays a rate has the large-sample variance of its logit: with a share `f` of all `n` plants on the side with the sign, of whose `m` read
/// plants a share `g` rooted, and a share `h` of `k` read on the other, it is
/// `1 / (n f (1 - f)) + (1 - g) / (g m) + (1 - h) / (h k)` for the sensitivity, with the shares that failed for the specificity.
/// A likelihood ratio is `logit g - logit r` with the sign and `logit h - logit r` without it, where `r = f g + (1 - f) h` is the share that
/// rooted of all; its variance is by the delta method in f, g and h.
///
/// # References
/// Begg and Greenes 1983, Biometrics 39:207-215.
pub(super) fn corrected(sums: Sums, trays: &[Sums], question: SignQuestion, confidence: f64) -> Option<(f64, f64)> {
    let scaled = |sums: Sums| scale(question, sums.filled()?.answer(question)?);
    let value = scaled(sums)?;
    let (low, high) = if trays.len() > 1 {
        let left: Vec<Option<f64>> = trays.iter().map(|tray| scaled(sums.plus(*tray, -1.0))).collect();
        limits(value, standard_error(&left)?, trays.len() as f64 - 1.0, confidence)
    } else {
        let reach = normal::isf(0.5 * (1.0 - confidence)) * large_sample(sums, question)?.sqrt();
        (value - reach, value + reach)
    };
    Some((unscaled(question, low), unscaled(question, high)))
}

fn scale(question: SignQuestion, value: f64) -> Option<f64> {
    let scaled = if question.is_ratio() { value.ln() } else { (value / (1.0 - value)).ln() };
    Some(scaled).filter(|scaled| scaled.is_finite())
}

fn unscaled(question: SignQuestion, scaled: f64) -> f64 {
    if question.is_ratio() { scaled.exp() } else { 1.0 / (1.0 + (-scaled).exp()) }
}

/// The variance of the logarithm of a likelihood ratio.
fn ratio_variance(sums: Sums, question: SignQuestion) -> Option<f64> {
    let (read, read_without) = (sums.a + sums.b, sums.c + sums.d);
    let (f, g, h) = (sums.with() / sums.all(), sums.a / read, sums.c / read_without);
    let rooted = f * g + (1.0 - f) * h;
    let (all, own) = (
        rooted * (1.0 - rooted),
        |share: f64, of: SignQuestion| {
            if question == of { 1.0 / (share * (1.0 - share)) } else { 0.0 }
        },
    );
    let by_side = (g - h) / all;
    let by_with = own(g, SignQuestion::LikelihoodRatioWith) - f / all;
    let by_without = own(h, SignQuestion::LikelihoodRatioWithout) - (1.0 - f) / all;
    let variance = by_side.powi(2) * f * (1.0 - f) / sums.all()
        + by_with.powi(2) * g * (1.0 - g) / read
        + by_without.powi(2) * h * (1.0 - h) / read_without;
    Some(variance).filter(|variance| variance.is_finite() && *variance > 0.0)
}

/// The variance of the logit of a rate among rooted or failed plants.
fn large_sample(sums: Sums, question: SignQuestion) -> Option<f64> {
    let (with, without) = match question {
        SignQuestion::Sensitivity => ((sums.a, sums.a + sums.b), (sums.c, sums.c + sums.d)),
        SignQuestion::Specificity => ((sums.b, sums.a + sums.b), (sums.d, sums.c + sums.d)),
        _ => return ratio_variance(sums, question),
    };
    let side = |(some, read): (f64, f64)| 1.0 / some - 1.0 / read;
    let variance = sums.all() / (sums.with() * sums.without()) + side(with) + side(without);
    Some(variance).filter(|variance| variance.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where all were read the delta method is the variance of the logarithm of a ratio of two shares: 1/a - 1/(a + c) + 1/b - 1/(b + d).
    #[test]
    fn ratios_of_all_read_have_the_variance_of_two_shares() {
        let sums = Sums { a: 96.0, b: 24.0, c: 8.0, d: 72.0, u: 0.0, v: 0.0 };
        let with = 1.0 / 96.0 - 1.0 / 104.0 + 1.0 / 24.0 - 1.0 / 96.0;
        let without = 1.0 / 8.0 - 1.0 / 104.0 + 1.0 / 72.0 - 1.0 / 96.0;
        for (question, wanted) in
            [(SignQuestion::LikelihoodRatioWith, with), (SignQuestion::LikelihoodRatioWithout, without)]
        {
            approx::assert_relative_eq!(
                ratio_variance(sums, question).unwrap(),
                wanted,
                max_relative = 1e-12,
                epsilon = 0.0
            );
        }
    }
}
