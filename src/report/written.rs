//! One number of a table, written as what it is.

use super::numbers::{fixed, p_digits, power_of_ten, significant, trimmed};
use crate::answer::Scale;

/// What is left where equal numbers were subtracted: a picture of rounding, not of the trial.
const NOISE: f64 = 1e-12;
/// Digits of a number that count.
const DIGITS: i32 = 4;
/// Beyond these, numbers that are no strengths and no counts are written as powers of ten, as sentences have them.
const USUAL: std::ops::Range<f64> = 1e-4..1e9;
/// No strength and no count is larger.
const LARGEST: f64 = 1e15;

/// A number as a cell holds it.
///
/// A rate between 0 and 1 is never rounded onto either, a P value is never 0, a rounded zero has no sign, and a strength or a count is
/// never a power of ten.
///
/// ```
/// use rootling::{answer::Scale, report::written};
/// assert_eq!([0.4375, 0.0002, 0.99996].map(|rate| written(rate, Scale::Rate)), ["43.8 %", "< 0.1 %", "> 99.9 %"]);
/// assert_eq!([0.283, -0.0001].map(|gap| written(gap, Scale::Difference)), ["+28.3 points", "0.0 points"]);
/// assert_eq!([12_500.0, 0.000_02].map(|one| written(one, Scale::Strength)), ["12500", "0.00002"]);
/// assert_eq!(written(1e-300, Scale::P), "< 0.001");
/// assert_eq!(written(f64::INFINITY, Scale::OddsRatio), "no upper limit");
/// ```
#[must_use]
pub fn written(x: f64, scale: Scale) -> String {
    if scale == Scale::P {
        return p_digits(x);
    }
    if !x.is_finite() {
        return without_end(x, scale).to_owned();
    }
    match scale {
        Scale::Rate | Scale::Difference | Scale::Size | Scale::Confidence if !(100.0 * x).is_finite() => {
            without_end(x, scale).to_owned()
        }
        Scale::Rate => rate(x),
        Scale::Difference => difference(x),
        Scale::Size => difference(x).trim_start_matches('+').to_owned(),
        Scale::Confidence => confidence(x),
        Scale::Degrees => fixed(x, usize::from((x - x.round()).abs() >= 0.02)),
        Scale::Strength | Scale::StrengthOrNever | Scale::Count | Scale::Level => four_digits(x, NOISE..LARGEST),
        Scale::Ratio | Scale::OddsRatio | Scale::Statistic | Scale::Plain | Scale::Text | Scale::P => {
            four_digits(x, USUAL)
        }
    }
}

fn without_end(x: f64, scale: Scale) -> &'static str {
    match (x.is_nan(), x > 0.0) {
        (true, _) => "not available",
        (_, true) if scale == Scale::StrengthOrNever => "or never reached",
        (_, true) => "no upper limit",
        _ => "no lower limit",
    }
}

fn rate(x: f64) -> String {
    match x {
        _ if x > 0.0 && x < 0.0005 => "< 0.1 %".to_owned(),
        _ if (0.9995..1.0).contains(&x) => "> 99.9 %".to_owned(),
        _ => format!("{} %", fixed(100.0 * x, 1)),
    }
}

fn difference(x: f64) -> String {
    let points = 100.0 * x;
    if points.abs() < 0.05 { "0.0 points".to_owned() } else { format!("{points:+.1} points") }
}

/// Without needless decimals, and never rounded to certainty or to none.
fn confidence(x: f64) -> String {
    let text = significant(100.0 * x, 6);
    match trimmed(&text) {
        _ if x > 0.0 && x < 1e-6 => "< 0.0001 %".to_owned(),
        "100" if x < 1.0 => "> 99.9999 %".to_owned(),
        digits => format!("{digits} %"),
    }
}

/// Four digits that count, whole from 1000 on; beyond the usual as a power of ten.
fn four_digits(x: f64, usual: std::ops::Range<f64>) -> String {
    if x.abs() < NOISE {
        return "0".to_owned();
    }
    let text = format!("{x:.*e}", usize::try_from(DIGITS - 1).unwrap_or(0));
    let rounded: f64 = text.parse().unwrap_or(x);
    if !usual.contains(&rounded.abs()) {
        return power_of_ten(&text);
    }
    if rounded.abs() >= 1000.0 { fixed(x, 0) } else { trimmed(&significant(x, DIGITS)).to_owned() }
}
