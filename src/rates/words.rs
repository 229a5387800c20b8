//! One rate in words.

use super::interval::{IntervalMethod, Sides, interval};
use super::target::{TargetMethod, TargetTest};
use crate::error::Result;
use crate::estimate::{Count, Estimate};
use crate::report::{numbers, references};

const LEVEL: f64 = 0.95;

/// One sentence on a take rate with its interval or bound; at none or all rooted it says what is left open.
///
/// ```
/// use rootling::{Count, rates::{IntervalMethod, Sides, bound, interval_sentence}};
/// let count = Count { rooted: 0, stuck: 60 };
/// let most = bound(count, IntervalMethod::ClopperPearson, 0.95, Sides::Upper)?;
/// let said = interval_sentence(count, &most, Sides::Upper);
/// assert_eq!(said, "0 of 60 cuttings rooted; a take of up to 4.9 % cannot be ruled out (95 % upper bound; rule of three: 3 / 60 = 5.0 %).");
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn interval_sentence(count: Count, found: &Estimate<IntervalMethod>, sides: Sides) -> String {
    let Count { rooted, stuck } = count;
    let start = format!("{rooted} of {stuck} cuttings rooted");
    let (low, high) = (found.low, found.high);
    let percent = numbers::confidence(found.confidence);
    let rule = |start: &str, share: f64| {
        if stuck < 30 || (found.confidence - 0.95).abs() > 1e-9 {
            return String::new();
        }
        if sides == Sides::Both {
            return format!("; one-sided, by the rule of three, {}", numbers::percent(share));
        }
        format!("; rule of three: {start}3 / {stuck} = {}", numbers::percent(share))
    };
    let three = 3.0 / stuck as f64;
    let kind = match sides {
        Sides::Both => format!("{percent} interval"),
        Sides::Lower => format!("{percent} lower bound"),
        Sides::Upper => format!("{percent} upper bound"),
    };
    match (rooted, count.not_rooted(), sides) {
        (0, _, Sides::Lower) | (_, 0, Sides::Upper) => {
            format!("{start}; a bound on this side says nothing, ask for the other one.")
        }
        (0, ..) => format!(
            "{start}; a take of up to {} cannot be ruled out ({kind}{}).",
            numbers::percent(high),
            rule("", three)
        ),
        (_, 0, _) => {
            format!(
                "{start}; a take as low as {} cannot be ruled out ({kind}{}).",
                numbers::percent(low),
                rule("1 - ", 1.0 - three)
            )
        }
        (.., Sides::Both) => format!(
            "{start}, {} of 100 ({}).",
            numbers::points(found.value),
            numbers::interval(numbers::points(low), numbers::points(high), found.confidence)
        ),
        (.., Sides::Lower) => {
            format!("{start}, {} of 100, and at least {} ({kind}).", numbers::points(found.value), numbers::points(low))
        }
        (.., Sides::Upper) => {
            format!("{start}, {} of 100, and at most {} ({kind}).", numbers::points(found.value), numbers::points(high))
        }
    }
}

/// One sentence on a rate against a target, judged at 5 %, with the 95 % interval that belongs to the test.
///
/// # Errors
/// A count error for an impossible count or method name.
pub fn target_sentence(count: Count, found: &TargetTest) -> Result<String> {
    let limits = interval(count, matching(found), LEVEL)?;
    let target = numbers::percent(found.target);
    let verdict = match (found.p <= 1.0 - LEVEL, found.value > found.target) {
        (true, true) => format!("The take is above the target of {target}"),
        (true, false) => format!("The take is below the target of {target}"),
        (false, _) => format!("A difference from the target of {target} is not shown"),
    };
    Ok(format!(
        "{verdict} ({}): {} of 100 rooted ({}).",
        numbers::p_value(found.p),
        numbers::points(found.value),
        numbers::interval(numbers::points(limits.low), numbers::points(limits.high), LEVEL)
    ))
}

/// The interval that belongs to the test.
fn matching(found: &TargetTest) -> IntervalMethod {
    match found.method {
        TargetMethod::Exact | TargetMethod::Blaker => IntervalMethod::Blaker,
        TargetMethod::Doubled => IntervalMethod::ClopperPearson,
        TargetMethod::MidP => IntervalMethod::MidP,
        TargetMethod::Score => IntervalMethod::Wilson,
    }
}

/// What stands behind it.
pub(super) fn target_details(count: Count, found: &TargetTest) -> Vec<String> {
    let method = matching(found);
    vec![format!(
        "{} of {} cuttings rooted; method of the interval: {}.",
        count.rooted,
        count.stuck,
        references::spoken(method.name())
    )]
}
