//! What a curve's answer decides, in at most thirty words: the line that leads its sentence.

use super::best::Located;
use super::figures::{CurveComparison, OneCurve, StrengthCurve, StrengthsFor};
use super::input::CurveInput;
use super::target::StrengthFor;
use crate::report::{fitted, join, number, p_value};

/// Curves that are named one by one.
const NAMED: usize = 3;
/// Fewer strengths than this make no curve.
pub(super) const LEAST_STRENGTHS: usize = 3;

/// A strength to two digits, as it is weighed out.
pub(super) fn about(value: f64) -> String {
    if !(value.is_finite() && value > 0.0) {
        return number(value);
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    number((value / unit).round() * unit)
}

/// "mg/L IBA", as far as it is known, with a space before it.
pub(super) fn unit(input: &CurveInput) -> String {
    let substance = input.strength.as_ref().map(|strength| strength.substance().to_string());
    let parts: Vec<String> = [Some(input.unit.clone()), substance].into_iter().flatten().collect();
    parts.into_iter().filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
}

/// What opens a decision line when cuttings are counted one by one.
pub(super) fn hint(counted: bool) -> &'static str {
    if counted { "" } else { "Without trays only a hint: " }
}

/// Whole trees per 100.
fn trees(take: f64) -> String {
    format!("{:.0}", (100.0 * take).round() + 0.0)
}

/// True where a curve was drawn through three strengths or more that are not all alike.
fn drawn(curve: &OneCurve) -> bool {
    !curve.all_alike && curve.strengths.len() >= LEAST_STRENGTHS
}

/// The decision line over all curves.
pub(super) fn curves(found: &StrengthCurve) -> String {
    let hint = hint(found.input.counted);
    match found.curves.as_slice() {
        [only] => format!("{hint}{}", curve(only, found)),
        several => format!("{hint}{}", each(several, &unit(&found.input), found.input.options.outcome.of_hundred())),
    }
}

/// The best strength of each of several curves, a few by name.
fn each(curves: &[OneCurve], unit: &str, per: &str) -> String {
    let located: Vec<&OneCurve> =
        curves.iter().filter(|one| drawn(one) && one.best.located == Located::Inside).collect();
    let open: Vec<String> = curves
        .iter()
        .filter(|one| !(drawn(one) && one.best.located == Located::Inside))
        .map(|one| one.name.clone())
        .collect();
    let lack = match open.len() {
        0 => String::new(),
        1..=NAMED => format!("; no best strength yet for {}", join(&open)),
        n => format!("; {n} have no best strength yet"),
    };
    let top = |one: &OneCurve| about(one.best.strength.value);
    if located.is_empty() {
        return fitted(
            &format!("No best strength yet for any of {} curves", curves.len()),
            &[format!(": {}", join(&open)), "; test more strengths".to_owned()],
        );
    }
    if located.len() > NAMED {
        let mut tops: Vec<f64> = located.iter().map(|one| one.best.strength.value).collect();
        tops.sort_by(f64::total_cmp);
        let ends = tops.first().zip(tops.last()).map(|(low, high)| (about(*low), about(*high))).unwrap_or_default();
        let lead = format!("Best strengths of {} curves run from about {} to {}{unit}", located.len(), ends.0, ends.1);
        return fitted(&lead, &[lack, "; read each curve".to_owned()]);
    }
    let parts: Vec<String> = located
        .iter()
        .enumerate()
        .map(|(at, one)| match at {
            0 => format!("{}{unit} for {} ({} {per})", top(one), one.name, trees(one.best.take)),
            _ => format!("{} for {} ({})", top(one), one.name, trees(one.best.take)),
        })
        .collect();
    fitted(&format!("Use about {}", join(&parts)), &[lack])
}

/// The decision line of one curve.
pub(super) fn curve(curve: &OneCurve, found: &StrengthCurve) -> String {
    let (best, unit) = (&curve.best, unit(&found.input));
    let (per, counted) = (found.input.options.outcome.of_hundred(), found.input.options.outcome.counted());
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    let highest = curve.strengths.last().map_or(f64::NAN, |level| level.strength);
    let tested = format!("{} to {}{unit}", number(lowest), number(highest));
    if curve.all_alike {
        let what = if best.take > 0.5 { "every" } else { "no" };
        return format!("At {tested} {what} cutting {counted}, so no best strength can be told.");
    }
    if curve.strengths.len() < LEAST_STRENGTHS {
        return two(curve, &unit, per);
    }
    let take = format!("{} {per} ({} to {})", trees(best.take), trees(best.take_low), trees(best.take_high));
    let top = about(best.strength.value);
    match best.located {
        Located::Inside => format!(
            "Use about {top}{unit}: {take}; {} to {} are not shown to be worse.",
            about(best.range_low),
            about(best.range_high)
        ),
        Located::High => format!(
            "No best strength yet: it may lie above {}{unit}. Test higher; so far {top} gives {take}.",
            number(highest)
        ),
        Located::Low if lowest == 0.0 => format!(
            "No reason to use any: strength 0 may do as well as up to {}{unit}; highest near {top}, {take}.",
            number(highest)
        ),
        Located::Low => format!(
            "No best strength yet: it may lie below {}{unit}. Test lower; so far {top} gives {take}.",
            number(lowest)
        ),
        Located::Nowhere => {
            format!("Too few trays to tell a best strength within {tested}; highest near {top}, {take}.")
        }
    }
}

/// Two strengths: which is higher, and that a curve needs more.
fn two(curve: &OneCurve, unit: &str, per: &str) -> String {
    let [a, b] = curve.strengths.as_slice() else {
        return "A single strength makes no curve; test two more.".to_owned();
    };
    let (lower, upper) = (a.value - b.value, b.value - a.value);
    let (better, other) = if lower > upper { (a, b) } else { (b, a) };
    let difference = better.value - other.value;
    let low = difference - (better.value - better.conf_low).hypot(other.conf_high - other.value);
    let high = difference + (better.conf_high - better.value).hypot(other.value - other.conf_low);
    let between = if a.strength > 0.0 { (a.strength * b.strength).sqrt() } else { 0.5 * b.strength };
    format!(
        "Two strengths make no curve: {}{unit} has {} more {per} than {} ({} to {}). Add {} and {}.",
        number(better.strength),
        trees(difference),
        number(other.strength),
        trees(low),
        trees(high),
        about(between),
        about(2.0 * b.strength)
    )
}

/// The decision line of the strengths for a take.
pub(super) fn strengths_for(found: &StrengthsFor, input: &CurveInput) -> String {
    let lead: Vec<&StrengthFor> = found.rows.iter().filter(|row| row.method == "profile").collect();
    let hint = hint(input.counted);
    if let [only] = lead.as_slice() {
        return format!("{hint}{}", strength_for(only, found, input));
    }
    let (take, unit, per) = (trees(found.take), unit(input), input.options.outcome.of_hundred());
    let reached: Vec<(&str, f64)> =
        lead.iter().filter_map(|row| Some((row.curve.as_str(), row.value.filter(|_| !row.outside)?))).collect();
    let missed: Vec<&str> = lead
        .iter()
        .map(|row| row.curve.as_str())
        .filter(|name| reached.iter().all(|(known, _)| known != name))
        .collect();
    let lack = match missed.len() {
        0 => String::new(),
        1..=NAMED => format!("; not reached within the tested range by {}", join(&missed)),
        n => format!("; {n} do not reach it"),
    };
    let start = format!("{hint}For {take} {per} use about ");
    if reached.is_empty() {
        return format!("{hint}No curve reaches {take} {per} within the tested range.");
    }
    if reached.len() > NAMED {
        let values = || reached.iter().map(|(_, value)| *value);
        let (low, high) = (values().fold(f64::INFINITY, f64::min), values().fold(0.0, f64::max));
        let lead = format!("{start}{} to {}{unit}, by curve", about(low), about(high));
        return fitted(&lead, &[lack]);
    }
    let parts: Vec<String> = reached
        .iter()
        .enumerate()
        .map(|(at, (name, value))| format!("{}{} for {name}", about(*value), if at == 0 { unit.as_str() } else { "" }))
        .collect();
    fitted(&format!("{start}{}", join(&parts)), &[lack])
}

/// The decision line of one strength for a take.
pub(super) fn strength_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> String {
    let (take, unit, per) = (trees(found.take), unit(input), input.options.outcome.of_hundred());
    let limits = if row.conf_high.is_finite() {
        format!("{} to {}", about(row.conf_low), about(row.conf_high))
    } else {
        format!("at least {}, no upper limit", about(row.conf_low))
    };
    match row.value {
        Some(value) if row.outside => {
            format!("About {}{unit} for {take} {per}, beyond what was tested ({limits}): test it first.", about(value))
        }
        Some(value) => format!("Use about {}{unit} for {take} {per} ({limits}).", about(value)),
        None => format!("No tested strength reaches {take} {per} ({limits}{unit})."),
    }
}

/// The decision line of curves compared.
pub(super) fn comparison(found: &CurveComparison, input: &CurveInput) -> String {
    let names =
        if found.names.len() > NAMED + 1 { format!("{} levels", found.names.len()) } else { join(&found.names) };
    let hint = hint(input.counted);
    let test = found.compared.tests.iter().find(|test| test.method == "no difference");
    test.map_or_else(
        || format!("{hint}The curves of {names} could not be compared."),
        |test| {
            if test.p_value <= 0.05 {
                format!("{hint}The curves of {names} differ ({}): choose a strength for each.", p_value(test.p_value))
            } else {
                format!("{hint}The curves of {names} are not shown to differ ({}).", p_value(test.p_value))
            }
        },
    )
}
