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

/// The variance of the logit of a rate among rooted or failed plants.
fn large_sample(sums: Sums, question: SignQuestion) -> Option<f64> {
    let (with, without) = match question {
        SignQuestion::Sensitivity => ((sums.a, sums.a + sums.b), (sums.c, sums.c + sums.d)),
        SignQuestion::Specificity => ((sums.b, sums.a + sums.b), (sums.d, sums.c + sums.d)),
        _ => return None,
    };
    let side = |(some, read): (f64, f64)| 1.0 / some - 1.0 / read;
    let variance = sums.all() / (sums.with() * sums.without()) + side(with) + side(without);
    Some(variance).filter(|variance| variance.is_finite())
}
