//! What a curve's answer decides, in at most thirty words: the line that is its sentence.

use super::best::Located;
use super::figures::{OneCurve, StrengthCurve, StrengthsFor};
use super::input::CurveInput;
use super::next_trial::mixed;
use super::target::StrengthFor;
use crate::report::{join, number, p_value};

/// Fewer strengths than this make no curve.
pub(super) const LEAST_STRENGTHS: usize = 3;

/// A lack of fit at or below this P says that no curve fits.
pub(super) const MISSES: f64 = 0.05;

/// More curves than this have their decisions among the details.
const TOLD: usize = 4;

/// A strength to two digits, as it is weighed out.
pub(super) fn about(value: f64) -> String {
    if !(value.is_finite() && value > 0.0) {
        return number(value);
    }
    let unit = 10.0_f64.powf(value.log10().floor() - 1.0);
    number((value / unit).round() * unit)
}

/// Trees per 100 for a sentence: whole, as they are counted, unless asked for in parts.
pub(super) fn trees(rate: f64) -> String {
    let value = 100.0 * rate;
    if (value - value.round()).abs() < 0.05 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn whole_trees(rate: f64) -> String {
    format!("{:.0}", 100.0 * rate)
}

/// "87 trees per 100 (78 to 92)".
fn take([value, low, high]: [f64; 3]) -> String {
    format!("{} trees per 100 ({} to {})", whole_trees(value), whole_trees(low), whole_trees(high))
}

/// "mg/L IBA", as far as it is known, with a space before it.
pub(super) fn unit(input: &CurveInput) -> String {
    let substance = input.strength.as_ref().map(|strength| strength.substance().to_string());
    let parts: Vec<String> = [Some(input.unit.clone()), substance].into_iter().flatten().collect();
    parts.into_iter().filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
}

/// A sentence with a capital to begin with, marked where trays are not counted.
pub(super) fn aloud(input: &CurveInput, said: &str) -> String {
    let mut letters = said.chars();
    let begun = |first: char| format!("{}{}", first.to_uppercase(), said.chars().skip(1).collect::<String>());
    let whole = letters.next().map_or_else(String::new, begun);
    if input.counted {
        return whole;
    }
    const PLAIN: [&str; 14] =
        ["Use", "No", "Not", "None", "Too", "Two", "At", "About", "For", "Which", "The", "Stay", "Next", "Deaths"];
    let first = whole.split(' ').next().unwrap_or_default();
    if PLAIN.contains(&first) {
        return format!("Without trays only a hint: {}{}", first.to_lowercase(), whole.trim_start_matches(first));
    }
    format!("Without trays only a hint: {whole}")
}

/// P of the likeliest shape's lack of fit where it says that no curve fits.
fn misses(curve: &OneCurve) -> Option<f64> {
    curve.shapes.first().and_then(|lead| lead.lack_p_value).filter(|p| *p <= MISSES)
}

/// The decision of all curves together.
pub(super) fn curves(found: &StrengthCurve) -> String {
    let input = &found.input;
    if let [only] = found.curves.as_slice() {
        return aloud(input, &curve(only, found));
    }
    let unit = unit(input);
    if found.curves.len() > TOLD {
        let told = found.curves.iter().filter(|one| usable(one)).count();
        return aloud(
            input,
            &format!(
                "Best strengths are located for {told} of {} curves; each has its line below.",
                found.curves.len()
            ),
        );
    }
    let used: Vec<&OneCurve> = found.curves.iter().filter(|one| usable(one)).collect();
    let other: Vec<&str> = found.curves.iter().filter(|one| !usable(one)).map(|one| one.name.as_str()).collect();
    let each = |(at, one): (usize, &&OneCurve)| {
        let unit = if at == 0 { unit.as_str() } else { "" };
        format!("about {}{unit} for {}", about(one.best.strength.value), one.name)
    };
    let each: Vec<String> = used.iter().enumerate().map(each).collect();
    let said = match (each.is_empty(), other.is_empty()) {
        (true, _) => format!("no best strength is settled for {}; what each shows stands below.", join(&other)),
        (false, true) => format!("use {}.", join(&each)),
        (false, false) => format!("use {}; none is settled for {}.", join(&each), join(&other)),
    };
    aloud(input, &said)
}

/// A best strength that can be told on a curve that fits.
fn usable(curve: &OneCurve) -> bool {
    curve.best.located == Located::Inside
        && !curve.all_alike
        && curve.strengths.len() >= LEAST_STRENGTHS
        && misses(curve).is_none()
}

/// The decision line of one curve.
pub(super) fn curve(curve: &OneCurve, found: &StrengthCurve) -> String {
    let (best, unit) = (&curve.best, unit(&found.input));
    let lowest = curve.strengths.first().map_or(f64::NAN, |level| level.strength);
    let highest = curve.strengths.last().map_or(f64::NAN, |level| level.strength);
    if curve.all_alike {
        let what = if best.take > 0.5 { "every cutting rooted" } else { "no cutting rooted" };
        let tested = format!("{} to {}{unit}", number(lowest), number(highest));
        return format!("At {tested} {what}, so no best strength can be told.");
    }
    if curve.strengths.len() < LEAST_STRENGTHS {
        return two(curve, &unit);
    }
    if let Some(p) = misses(curve) {
        return no_fit(curve, &unit, p);
    }
    let (take, top) = (take([best.take, best.take_low, best.take_high]), about(best.strength.value));
    match best.located {
        Located::Inside => format!(
            "Use about {top}{unit}: {take}; {} to {} are not shown to be worse by more than {}.",
            about(best.range_low),
            about(best.range_high),
            trees(found.input.options.margin)
        ),
        Located::High => format!(
            "No best strength yet: it may lie above {}{unit}. Test higher; so far {top} gives {take}.",
            number(highest)
        ),
        Located::Low if lowest == 0.0 => format!(
            "No reason to use any: no hormone may do as well as any strength up to {}{unit}; highest near {top}, {take}.",
            number(highest)
        ),
        Located::Low => format!(
            "No best strength yet: it may lie below {}{unit}. Test lower; so far {top} gives {take}.",
            number(lowest)
        ),
        Located::Nowhere => format!(
            "Too few trays to tell a best strength up to {}{unit}: none is shown to beat all others; highest near {top}, {take}.",
            number(highest)
        ),
    }
}

/// No curve fits: the best of the strengths' own takes.
fn no_fit(curve: &OneCurve, unit: &str, p: f64) -> String {
    let top = curve.strengths.iter().max_by(|a, b| a.value.total_cmp(&b.value));
    top.map_or_else(String::new, |top| {
        format!(
            "Not settled: no curve fits these takes ({}). Best tested {}{unit}: {}.",
            p_value(p),
            number(top.strength),
            take([top.value, top.conf_low, top.conf_high])
        )
    })
}

/// Two strengths: which is higher, and which between them would make a curve.
fn two(curve: &OneCurve, unit: &str) -> String {
    let [a, b] = curve.strengths.as_slice() else {
        return "A single strength makes no curve; test two more.".to_owned();
    };
    let (lower, upper) = (a.value - b.value, b.value - a.value);
    let (better, other) = if lower > upper { (a, b) } else { (b, a) };
    let difference = better.value - other.value;
    let low = difference - (better.value - better.conf_low).hypot(other.conf_high - other.value);
    let high = difference + (better.conf_high - better.value).hypot(other.value - other.conf_low);
    // Thirds of the way on the log scale; strength 0 has none, so quarter and half of the other.
    let between = |share: f64| {
        if a.strength > 0.0 { a.strength * (b.strength / a.strength).powf(share) } else { 0.75 * share * b.strength }
    };
    format!(
        "Two strengths make no curve: {}{unit} has {} more trees per 100 than {} ({} to {}). Test {} and {}{unit} between them first.",
        number(better.strength),
        whole_trees(difference),
        number(other.strength),
        whole_trees(low),
        whole_trees(high),
        number(mixed(between(1.0 / 3.0))),
        number(mixed(between(2.0 / 3.0)))
    )
}

/// The decision of all strengths for a take.
pub(super) fn strengths_for(found: &StrengthsFor, input: &CurveInput) -> String {
    let rows: Vec<&StrengthFor> = found.rows.iter().filter(|row| row.method == "profile").collect();
    if let [only] = rows.as_slice() {
        return aloud(input, &strength_for(only, found, input));
    }
    if rows.len() > TOLD {
        return format!("For {} trees per 100 each curve has its line below.", trees(found.take));
    }
    let unit = unit(input);
    let one = |row: &&StrengthFor| {
        let place = match row.value {
            _ if row.lack_p_value.is_some_and(|p| p <= MISSES) => "not settled (no curve fits)".to_owned(),
            None => "no tested strength".to_owned(),
            Some(0.0) if row.conf_high <= 0.0 => "no hormone needed".to_owned(),
            Some(0.0) => "perhaps no hormone needed".to_owned(),
            Some(value) if row.outside => format!("about {}{unit}, beyond what was tested,", about(value)),
            Some(value) => format!("about {}{unit}", about(value)),
        };
        format!("{place} in {}", row.curve)
    };
    let each: Vec<String> = rows.iter().map(one).collect();
    aloud(input, &format!("For {} trees per 100: {}.", trees(found.take), join(&each)))
}

/// The decision line of one strength for a take.
pub(super) fn strength_for(row: &StrengthFor, found: &StrengthsFor, input: &CurveInput) -> String {
    let (wanted, unit) = (trees(found.take), unit(input));
    let limits = if row.conf_high.is_finite() {
        format!("{} to {}", about(row.conf_low), about(row.conf_high))
    } else {
        format!("at least {}, no upper limit", about(row.conf_low))
    };
    if let Some(p) = row.lack_p_value.filter(|p| *p <= MISSES) {
        return format!(
            "Not settled for {wanted} trees per 100: no curve fits these takes ({}); read the strengths' own takes.",
            p_value(p)
        );
    }
    match row.value {
        Some(0.0) => without(row, &wanted, &unit),
        Some(value) if row.outside => {
            format!(
                "About {}{unit} for {wanted} trees per 100, beyond what was tested ({limits}): test it first.",
                about(value)
            )
        }
        Some(value) => format!("Use about {}{unit} for {wanted} trees per 100 ({limits}).", about(value)),
        None if row.conf_low > 0.0 => format!(
            "No tested strength reaches {wanted} trees per 100; if any does, it is {}{unit} or more.",
            about(row.conf_low)
        ),
        None => format!("No tested strength is shown to reach {wanted} trees per 100; none is ruled out either."),
    }
}

/// Strength 0 reaches the take.
fn without(row: &StrengthFor, wanted: &str, unit: &str) -> String {
    let there = row.without.map_or_else(String::new, |found| format!(": without it {}", take(found)));
    if row.conf_high <= 0.0 {
        format!("No hormone is needed for {wanted} trees per 100{there}.")
    } else if row.conf_high.is_finite() {
        format!(
            "No hormone may be needed for {wanted} trees per 100{there}; at most about {}{unit}.",
            about(row.conf_high)
        )
    } else {
        format!("No hormone may be needed for {wanted} trees per 100{there}; more trays would make it sure.")
    }
}
