//! What a curve's answer decides, in at most thirty words: the line that leads its sentence.

use super::best::Located;
use super::figures::{CurveComparison, OneCurve, StrengthCurve, StrengthsFor};
use super::input::CurveInput;
use super::target::StrengthFor;
use crate::report::{join, p_value, points};

/// Fewer strengths than this make no curve.
pub(super) const LEAST_STRENGTHS: usize = 3;

/// A strength to two digits, as it is weighed out.
fn about(value: f64) -> String {
    if !(value.is_finite() && value > 0.0) {
        return crate::report::number(value);
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    crate::report::number((value / unit).round() * unit)
}

/// "mg/L IBA", as far as it is known, with a space before it.
pub(super) fn unit(input: &CurveInput) -> String {
    let substance = input.strength.as_ref().map(|strength| strength.substance().to_string());
    let parts: Vec<String> = [Some(input.unit.clone()), substance].into_iter().flatten().collect();
    parts.into_iter().filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
}

/// The decision line of one curve.
pub(super) fn curve(curve: &OneCurve, found: &StrengthCurve) -> String {
    let (best, unit) = (&curve.best, unit(&found.input));
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    let highest = curve.strengths.last().map_or(f64::NAN, |level| level.strength);
    let tested = format!("{} to {}{unit}", crate::report::number(lowest), crate::report::number(highest));
    if curve.all_alike {
        let what = if best.take > 0.5 { "every cutting rooted" } else { "no cutting rooted" };
        return format!("At {tested} {what}, so no best strength can be told.");
    }
    if curve.strengths.len() < LEAST_STRENGTHS {
        return two(curve, &unit);
    }
    let take = format!("{} trees per 100 ({} to {})", points(best.take), points(best.take_low), points(best.take_high));
    let top = about(best.strength.value);
    match best.located {
        Located::Inside => format!(
            "Use about {top}{unit}: {take}; {} to {} are not shown to be worse.",
            about(best.range_low),
            about(best.range_high)
        ),
        Located::High => format!(
            "No best strength yet: it may lie above {}{unit}. Test higher; so far {top} gives {take}.",
            crate::report::number(highest)
        ),
        Located::Low if lowest == 0.0 => {
            format!(
                "No reason to use any: no hormone may do as well as any strength up to {}{unit}; highest near {top}, {take}.",
                crate::report::number(highest)
            )
        }
        Located::Low => format!(
            "No best strength yet: it may lie below {}{unit}. Test lower; so far {top} gives {take}.",
            crate::report::number(lowest)
        ),
        Located::Nowhere => format!(
            "Too few trays to tell a best strength within {tested}: none is shown to beat all others; highest near {top}, {take}."
        ),
    }
}

/// Two strengths: which is higher, and that a curve needs more.
fn two(curve: &OneCurve, unit: &str) -> String {
    let [a, b] = curve.strengths.as_slice() else {
        return "A single strength makes no curve; test two more.".to_owned();
    };
    let (lower, upper) = (a.value - b.value, b.value - a.value);
    let (better, other) = if lower > upper { (a, b) } else { (b, a) };
    let difference = better.value - other.value;
    let low = difference - (better.value - better.conf_low).hypot(other.conf_high - other.value);
    let high = difference + (better.conf_high - better.value).hypot(other.value - other.conf_low);
    let number = crate::report::number;
    let between = if a.strength > 0.0 { (a.strength * b.strength).sqrt() } else { 0.5 * b.strength };
    format!(
        "Two strengths make no curve: {}{unit} has {} more trees per 100 than {} ({} to {}). Add {} and {}.",
        number(better.strength),
        points(difference),
        number(other.strength),
        points(low),
        points(high),
        about(between),
        about(2.0 * b.strength)
    )
}

/// The decision line of one strength for a take.
pub(super) fn strength_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> String {
    let (take, unit) = (points(found.take), unit(input));
    let limits = if row.conf_high.is_finite() {
        format!("{} to {}", about(row.conf_low), about(row.conf_high))
    } else {
        format!("at least {}, no upper limit", about(row.conf_low))
    };
    match row.value {
        Some(value) if row.outside => {
            format!(
                "About {}{unit} for {take} trees per 100, beyond what was tested ({limits}): test it first.",
                about(value)
            )
        }
        Some(value) => format!("Use about {}{unit} for {take} trees per 100 ({limits}).", about(value)),
        None => format!("No tested strength reaches {take} trees per 100 ({limits}{unit})."),
    }
}

/// The decision line of curves compared.
pub(super) fn comparison(found: &CurveComparison) -> String {
    let names = join(&found.names);
    let test = found.compared.tests.iter().find(|test| test.method == "no difference");
    test.map_or_else(String::new, |test| {
        if test.p_value <= 0.05 {
            format!("The curves of {names} differ ({}): choose a strength for each.", p_value(test.p_value))
        } else {
            format!("The curves of {names} are not shown to differ ({}).", p_value(test.p_value))
        }
    })
}
