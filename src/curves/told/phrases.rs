//! Words and turns that all answers about strengths share.

use crate::curves::input::CurveInput;
use crate::report::{capital, fitted, join, number};
use crate::trial::Outcome;

/// Curves that are named one by one.
pub(crate) const NAMED: usize = 3;

/// A decision without its full stop, and what else is said where there is room.
pub(crate) type Decided = (String, Vec<String>);

/// The decision as a sentence of at most thirty words, marked where trays are not counted.
pub(crate) fn aloud(counted: bool, (lead, more): Decided) -> String {
    let hint = if counted { "" } else { "Without trays only a hint: " };
    fitted(&format!("{hint}{}", capital(&lead)), &more)
}

/// A strength to two digits, as it is weighed out.
pub(crate) fn about(value: f64) -> String {
    if !(value.is_finite() && value > 0.0) {
        return number(value);
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    number((value / unit).round() * unit)
}

/// The name of a curve at the start of a line: "Dark days 28", and "K12" or "cool" as they are.
pub(crate) fn heading(curve: &str) -> String {
    if curve.contains(' ') { capital(curve) } else { curve.to_owned() }
}

/// The lowest to the highest of several strengths, "900 to 2400".
pub(crate) fn span(values: &[f64]) -> String {
    let (low, high) =
        (values.iter().copied().fold(f64::INFINITY, f64::min), values.iter().copied().fold(0.0, f64::max));
    format!("{} to {}", about(low), about(high))
}

/// "2400 mg/L IBA for K12 and 900 for K17": the unit once.
pub(crate) fn each_for<'a>(unit: &str, values: impl Iterator<Item = (f64, &'a str)>) -> String {
    let one = |(at, (value, name)): (usize, (f64, &str))| {
        format!("{}{} for {name}", about(value), if at == 0 { unit } else { "" })
    };
    join(&values.enumerate().map(one).collect::<Vec<String>>())
}

/// Trees per 100 as they were asked for: whole, or to the tenth.
pub(crate) fn trees(rate: f64) -> String {
    let value = 100.0 * rate;
    if (value - value.round()).abs() < 0.05 { whole_trees(rate) } else { format!("{value:.1}") }
}

/// Whole trees per 100, as they are counted.
pub(crate) fn whole_trees(rate: f64) -> String {
    format!("{:.0}", (100.0 * rate).round() + 0.0)
}

/// "mg/L IBA", as far as it is known, with a space before it.
pub(crate) fn unit(input: &CurveInput) -> String {
    let substance = input.strength.as_ref().map(|strength| strength.substance().to_string());
    let parts: Vec<String> = [Some(input.unit.clone()), substance].into_iter().flatten().collect();
    parts.into_iter().filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
}

/// How a best strength is told: what is best in one part of the take need not be what to use.
pub(super) fn advice(outcome: Outcome, sure: bool) -> String {
    if outcome.is_part() {
        return format!("{} is highest at about", outcome.words().the_take);
    }
    if sure { "Use about".to_owned() } else { "Leaning to about".to_owned() }
}

/// A strength with its unit.
pub(crate) fn strength(value: f64, unit: &str) -> String {
    if value == f64::INFINITY {
        return "no upper limit".to_owned();
    }
    let shown = number(value);
    if unit.is_empty() { shown } else { format!("{shown} {unit}") }
}

/// The first fact where cuttings are counted one by one.
pub(crate) fn opening(input: &CurveInput) -> Option<String> {
    match (input.pooled, input.counted) {
        (true, _) => Some("No trays were recorded, so the intervals are too narrow.".to_owned()),
        (false, false) => Some("Trays are not counted here, so the intervals are too narrow.".to_owned()),
        (false, true) => None,
    }
}

/// What a curve shows at one strength, in one word where there is one: "take", "survival rate".
pub(crate) fn noun(outcome: Outcome) -> &'static str {
    if outcome.is_part() { outcome.words().rate } else { outcome.noun() }
}
