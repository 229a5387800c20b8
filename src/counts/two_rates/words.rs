//! Two rates in words.

use super::{DifferenceMethod, OddsRatioMethod, RatioEstimate, RatioMethod};
use crate::estimate::{Count, Estimate};
use crate::report::{capital, limits_apart, numbers};

/// What a difference interval leaves open, in trees per 100.
pub(crate) fn range_in_words(low: f64, high: f64) -> String {
    if low < 0.0 && high > 0.0 {
        return format!(
            "a gain of up to {} or a loss of up to {} per 100 cannot be ruled out",
            numbers::points(high),
            numbers::points(-low)
        );
    }
    format!(
        "a difference as small as {} or as large as {} per 100 cannot be ruled out",
        numbers::points(low.abs().min(high.abs())),
        numbers::points(low.abs().max(high.abs()))
    )
}

fn both_alike(first: Count, second: Count) -> Option<&'static str> {
    match (first.rooted + second.rooted, first.not_rooted() + second.not_rooted()) {
        (0, _) => Some("no cutting rooted in either group"),
        (_, 0) => Some("every cutting rooted in both groups"),
        _ => None,
    }
}

/// The rates of both groups, the second first: "80.0 of 100 rooted against 60.0".
pub(crate) fn rates_in_words(first: Count, second: Count) -> String {
    format!("{} of 100 rooted against {}", numbers::points(second.rate()), numbers::points(first.rate()))
}

/// A difference in trees per 100: "20.0 more" or "3.0 fewer".
pub(crate) fn gain_in_words(value: f64) -> String {
    format!("{} {}", numbers::points(value.abs()), if value < 0.0 { "fewer" } else { "more" })
}

/// A difference with its limits, in the direction it has: "20.0 more trees per 100 (95 % interval 5.3 to 33.8)", or, where the limits hold 0,
/// "3.0 fewer per 100 (95 % interval 10.0 fewer to 4.0 more)".
pub(crate) fn gap_in_words((value, low, high): (f64, f64, f64), level: f64, per: &str) -> String {
    let (low, high) = limits_apart((low, high), |x| numbers::points(x.abs()));
    format!("{} {per} ({})", gain_in_words(value), numbers::interval(low, high, level))
}

/// What stands behind a difference, a fact a line.
pub(super) fn difference_details(first: Count, second: Count, found: &Estimate<DifferenceMethod>) -> Vec<String> {
    vec![
        format!("{}.", capital(&rates_in_words(first, second))),
        format!("{}.", capital(&range_in_words(found.low, found.high))),
    ]
}

/// One sentence on a difference of two rates.
///
/// ```
/// use rootling::{Count, counts::{DifferenceMethod, difference, difference_sentence}};
/// let (none, neither) = (Count { rooted: 0, stuck: 10 }, Count { rooted: 0, stuck: 20 });
/// let found = difference(none, neither, DifferenceMethod::MiettinenNurminen, 0.95)?;
/// assert!(difference_sentence(none, neither, &found).starts_with("No difference is shown: no cutting rooted"));
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn difference_sentence(first: Count, second: Count, found: &Estimate<DifferenceMethod>) -> String {
    let shown = found.low > 0.0 || found.high < 0.0;
    if let Some(alike) = both_alike(first, second) {
        return format!("No difference is shown: {alike}; {}.", range_in_words(found.low, found.high));
    }
    format!(
        "{} difference is shown: {} in the second group than in the first.",
        if shown { "A" } else { "No" },
        gap_in_words((found.value, found.low, found.high), found.confidence, "trees per 100")
    )
}

/// One sentence on a ratio of two rates.
#[must_use]
pub fn ratio_sentence(first: Count, second: Count, found: &RatioEstimate<RatioMethod>) -> String {
    let limits = numbers::interval(numbers::number(found.low), numbers::number(found.high), found.confidence);
    let value = match found.value {
        None => {
            return format!("No cutting rooted in either group, so the ratio of the rates can be anything ({limits}).");
        }
        Some(value) if value.is_infinite() => {
            return format!(
                "No cutting of the first group rooted, so the ratio has only a lower bound, {} ({limits}).",
                numbers::number(found.low)
            );
        }
        Some(0.0) => {
            return format!(
                "No cutting of the second group rooted, so the ratio has only an upper bound, {} ({limits}).",
                numbers::number(found.high)
            );
        }
        Some(value) => numbers::number(value),
    };
    let shown = found.low > 1.0 || found.high < 1.0;
    format!(
        "{}: the second rate is {value} times the first ({limits}); {}.",
        if shown { "A difference is shown" } else { "No difference is shown" },
        rates_in_words(first, second)
    )
}

/// One sentence on an odds ratio of two rates.
#[must_use]
pub fn odds_ratio_sentence(first: Count, second: Count, found: &RatioEstimate<OddsRatioMethod>) -> String {
    let limits = numbers::interval(numbers::number(found.low), numbers::number(found.high), found.confidence);
    let Some(value) = found.value else {
        let alike = both_alike(first, second).unwrap_or_default();
        return format!("No difference is shown: {alike}, so the odds ratio can be anything ({limits}).");
    };
    let bound = if value.is_infinite() {
        Some(("lower", found.low))
    } else if value == 0.0 {
        Some(("upper", found.high))
    } else {
        None
    };
    if let Some((side, bound)) = bound {
        return format!(
            "The counts put the odds ratio at an end, so it has only {} {side} bound, {} ({limits}).",
            if side == "upper" { "an" } else { "a" },
            numbers::number(bound)
        );
    }
    let shown = found.low > 1.0 || found.high < 1.0;
    format!(
        "{}: the odds of rooting in the second group are {} times those in the first ({limits}).",
        if shown { "A difference is shown" } else { "No difference is shown" },
        numbers::number(value)
    )
}
