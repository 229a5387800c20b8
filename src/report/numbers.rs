//! Numbers as a reader wants them: rounded, signed, with their unit.

/// Rounds to `digits` decimals and drops the sign of a rounded zero.
pub(super) fn fixed(x: f64, digits: usize) -> String {
    let text = format!("{x:.digits$}");
    let is_zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// What stands in place of a number that is none.
fn not_finite(x: f64) -> &'static str {
    if x.is_nan() {
        "not available"
    } else if x > 0.0 {
        "infinite"
    } else {
        "minus infinite"
    }
}

/// A proportion (0-1) as a percentage with one decimal; exact 0 and 1 are "0 %" and "100 %".
///
/// A rate strictly between the ends is never rounded onto one: it reads "< 0.1 %" or "> 99.9 %".
///
/// ```
/// use rootling::report::percent;
/// assert_eq!(percent(0.65), "65.0 %");
/// assert_eq!(percent(0.0), "0 %");
/// assert_eq!(percent(1.0), "100 %");
/// assert_eq!(percent(0.0002), "< 0.1 %");
/// ```
#[expect(clippy::float_cmp, reason = "only an exact 1 is \"100 %\"")]
#[must_use]
pub fn percent(x: f64) -> String {
    if !x.is_finite() {
        return not_finite(x).to_owned();
    }
    if x == 0.0 {
        return "0 %".to_owned();
    }
    if x == 1.0 {
        return "100 %".to_owned();
    }
    if x > 0.0 && x < 1.0 {
        if x < 0.0005 {
            return "< 0.1 %".to_owned();
        }
        if x >= 0.9995 {
            return "> 99.9 %".to_owned();
        }
    }
    format!("{} %", fixed(100.0 * x, 1))
}

/// A difference of two proportions as trees per 100, one decimal, "-" in front of a loss.
///
/// ```
/// use rootling::report::points;
/// assert_eq!(points(0.213), "21.3");
/// assert_eq!(points(-0.041), "-4.1");
/// assert_eq!(points(-0.0001), "0.0");
/// ```
#[must_use]
pub fn points(x: f64) -> String {
    if x.is_finite() { fixed(100.0 * x, 1) } else { not_finite(x).to_owned() }
}

/// The same as a limit, away from 0: what is left of a limit that is not 0 is never "0.0".
///
/// ```
/// use rootling::report::numbers::points_out;
/// assert_eq!([0.0, 0.0002, 0.003].map(points_out), ["0.0", "0.1", "0.3"]);
/// ```
#[must_use]
pub fn points_out(x: f64) -> String {
    if x > 0.0 && x < 0.0005 { "0.1".to_owned() } else { points(x) }
}

/// Whole trees per 100 as a limit, away from 0: below a half with one decimal.
///
/// ```
/// use rootling::report::numbers::trees_out;
/// assert_eq!([0.0, 0.0002, 0.003, 0.12].map(trees_out), ["0", "0.1", "0.3", "12"]);
/// ```
#[must_use]
pub fn trees_out(x: f64) -> String {
    let whole = (100.0 * x).round() + 0.0;
    if x > 0.0 && whole == 0.0 { points_out(x) } else { format!("{whole:.0}") }
}

/// A P value: two significant digits, never "0.000", never rounded to 1 unless it is 1.
///
/// ```
/// use rootling::report::p_value;
/// assert_eq!(p_value(0.012), "P = 0.012");
/// assert_eq!(p_value(0.0047), "P = 0.0047");
/// assert_eq!(p_value(3e-9), "P < 0.001");
/// ```
#[must_use]
pub fn p_value(p: f64) -> String {
    let digits = p_digits(p);
    match digits.starts_with(['<', '>']) || !p.is_finite() {
        true => format!("P {digits}"),
        false => format!("P = {digits}"),
    }
}

/// The same without its name, as a column headed "P value" holds it: "0.012", "< 0.001".
pub(super) fn p_digits(p: f64) -> String {
    match p {
        _ if !p.is_finite() => "not available".to_owned(),
        _ if p < 0.001 => "< 0.001".to_owned(),
        _ if p >= 1.0 => "1".to_owned(),
        _ if p > 0.995 => "> 0.99".to_owned(),
        _ => significant(p, 2),
    }
}

/// A positive or negative number at `digits` significant digits in plain notation.
pub(super) fn significant(x: f64, digits: i32) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{:.*e}", usize::try_from(digits - 1).unwrap_or(0), x).parse().unwrap_or(x);
    let decimals = digits - 1 - exponent(rounded);
    fixed(rounded, usize::try_from(decimals).unwrap_or(0))
}

/// The power of ten of the leading digit.
fn exponent(x: f64) -> i32 {
    format!("{x:e}").rsplit_once('e').and_then(|(_, power)| power.parse().ok()).unwrap_or(0)
}

/// A number at 4 significant digits (3 below one, whole from 1000 on), without trailing zeros; very large or small
/// ones as powers of ten.
///
/// ```
/// use rootling::report::number;
/// assert_eq!(number(2.0), "2");
/// assert_eq!(number(12.300_667), "12.3");
/// assert_eq!(number(0.842_17), "0.842");
/// assert_eq!(number(f64::INFINITY), "infinite");
/// ```
#[must_use]
pub fn number(x: f64) -> String {
    if !x.is_finite() {
        return not_finite(x).to_owned();
    }
    let size = x.abs();
    if size != 0.0 && !(1e-4..1e9).contains(&size) {
        let text = format!("{x:.2e}");
        return power_of_ten(&text);
    }
    if size >= 1000.0 {
        return fixed(x, 0);
    }
    trimmed(&significant(x, if size < 1.0 { 3 } else { 4 })).to_owned()
}

/// A number in the notation of programs, "1.20e4", as readers write it: "1.2 x 10^4".
pub(super) fn power_of_ten(text: &str) -> String {
    match text.split_once('e') {
        Some((digits, power)) => format!("{} x 10^{power}", trimmed(digits)),
        None => text.to_owned(),
    }
}

/// Without trailing zeros behind a decimal point.
pub(super) fn trimmed(text: &str) -> &str {
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { text }
}

/// A confidence interval in words, its limits already written out: "95 % interval 12.1 to 30.4".
///
/// ```
/// use rootling::report::{interval, points};
/// assert_eq!(interval(&points(0.121), &points(0.304), 0.95), "95 % interval 12.1 to 30.4");
/// ```
#[must_use]
pub fn interval(low: impl AsRef<str>, high: impl AsRef<str>, level: f64) -> String {
    format!("{} interval {} to {}", confidence(level), low.as_ref(), high.as_ref())
}

/// A confidence level (0-1) in words, without needless decimals: "95 %", "97.5 %".
///
/// ```
/// use rootling::report::confidence;
/// assert_eq!(confidence(0.95), "95 %");
/// assert_eq!(confidence(0.975), "97.5 %");
/// ```
#[must_use]
pub fn confidence(level: f64) -> String {
    format!("{} %", trimmed(&fixed(100.0 * level, 3)))
}

/// The step that sums of money are rounded to where they are known to about `width`: three digits of it.
///
/// ```
/// use rootling::report::numbers::money_step;
/// assert_eq!([1800.0, 12.0, 0.0].map(money_step), [10.0, 0.1, 1.0]);
/// ```
#[must_use]
pub fn money_step(width: f64) -> f64 {
    if width > 0.0 && width.is_finite() { 10.0_f64.powi(width.log10().floor() as i32 - 2) } else { 1.0 }
}

/// A sum of money in steps, thousands set apart: "1,740", "-90", "0.35"; a step above 1 is a power of ten.
///
/// ```
/// use rootling::report::numbers::money;
/// assert_eq!(money(1743.2, 10.0), "1,740");
/// assert_eq!(money(-86.0, 10.0), "-90");
/// assert_eq!(money(0.347, 0.01), "0.35");
/// assert_eq!(money(-0.2, 1.0), "0");
/// ```
#[must_use]
pub fn money(x: f64, step: f64) -> String {
    if !x.is_finite() {
        return not_finite(x).to_owned();
    }
    let digits = if step < 1.0 { (-step.log10()).ceil() as usize } else { 0 };
    let text = fixed(if step > 1.0 { (x / step).round() * step } else { x }, digits);
    let (sign, size) = text.strip_prefix('-').map_or(("", text.as_str()), |size| ("-", size));
    let (whole, part) = size.split_at(size.find('.').unwrap_or(size.len()));
    let mut out = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at) % 3 == 0 {
            out.push(',');
        }
        out.push(digit);
    }
    format!("{sign}{out}{part}")
}

/// Degrees of freedom with their noun, which follows the number: "1 degree of freedom", "5.3 degrees of freedom".
///
/// ```
/// use rootling::report::degrees_of_freedom;
/// assert_eq!(degrees_of_freedom(1.0), "1 degree of freedom");
/// assert_eq!(degrees_of_freedom(5.3), "5.3 degrees of freedom");
/// ```
#[must_use]
pub fn degrees_of_freedom(df: f64) -> String {
    let shown = number(df);
    let noun = if shown == "1" { "degree" } else { "degrees" };
    format!("{shown} {noun} of freedom")
}

/// "a", "a and b", "a, b and c".
///
/// ```
/// use rootling::report::join;
/// assert_eq!(join(&["K12", "K17", "K30"]), "K12, K17 and K30");
/// ```
#[must_use]
pub fn join<S: AsRef<str>>(parts: &[S]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

/// The verb that goes with names as [`join`] puts them together: `one` for a single name, `many` for several.
///
/// ```
/// use rootling::report::{agree, join};
/// assert_eq!(agree(&join(&["season"]), "crosses", "cross"), "crosses");
/// assert_eq!(agree(&join(&["dark_days", "season"]), "is", "are"), "are");
/// ```
#[must_use]
pub fn agree<'a>(names: &str, one: &'a str, many: &'a str) -> &'a str {
    if names.contains(" and ") { many } else { one }
}

/// A noun for several: "trays", "benches", "batches", "bays", "entries"; of places counted within others the first alone: "bays".
///
/// ```
/// use rootling::report::plural;
/// assert_eq!(["tray", "bench", "box", "bay", "entry"].map(plural), ["trays", "benches", "boxes", "bays", "entries"]);
/// assert_eq!(plural("stock_plant"), "stock plants");
/// assert_eq!(plural("bay within dark_days"), "bays");
/// ```
#[must_use]
pub fn plural(noun: &str) -> String {
    let noun = unit_name(noun);
    let lower = noun.to_lowercase();
    if ["s", "x", "z", "ch", "sh"].iter().any(|end| lower.ends_with(end)) {
        return format!("{noun}es");
    }
    let stem = noun.strip_suffix('y').filter(|stem| !stem.is_empty() && !stem.ends_with(['a', 'e', 'i', 'o', 'u']));
    stem.map_or_else(|| format!("{noun}s"), |stem| format!("{stem}ies"))
}

/// A unit by its name: "stock plant", and "bay" where bays are numbered within darknesses.
///
/// ```
/// assert_eq!(rootling::report::numbers::unit_name("bay within dark_days"), "bay");
/// ```
#[must_use]
pub fn unit_name(noun: &str) -> String {
    let noun = noun.replace('_', " ");
    noun.split_once(" within ").map_or_else(|| noun.clone(), |(first, _)| first.to_owned())
}

/// The same for a methods paragraph, which says within what the units are numbered: "bay (numbered within dark days)".
#[must_use]
pub fn unit_in_full(noun: &str) -> String {
    let noun = noun.replace('_', " ");
    noun.split_once(" within ")
        .map_or_else(|| noun.clone(), |(first, rest)| format!("{first} (numbered within {rest})"))
}

/// A whole number with its noun: "1 tray", "12 trays".
///
/// ```
/// use rootling::report::whole;
/// assert_eq!(whole(1, "tray", "trays"), "1 tray");
/// assert_eq!(whole(0, "tray", "trays"), "0 trays");
/// ```
#[must_use]
pub fn whole(n: u64, singular: &str, plural: &str) -> String {
    if n == 1 { format!("1 {singular}") } else { format!("{n} {plural}") }
}
