//! Strengths written as text.

use super::shown::{LONGEST, shortened};
use super::unit::{Unit, check_value};
use crate::error::{Result, StrengthError};

/// Reads a number and its unit: "2500 mg/L", "0.3 %", "0,3 %" (decimal comma), "2 500 mg/L" (thousands space).
///
/// Plain "ppm" and "%" are read as they stand; a [`super::Strength`] settles their basis.
///
/// # Errors
/// [`StrengthError::NotAStrength`] unless the text is one number and a unit; [`StrengthError::UnknownUnit`];
/// [`StrengthError::AmbiguousNumber`] for "2,500", which may be 2.5 or 2500; [`StrengthError::Negative`].
///
/// ```
/// use rootling::units::{Unit, parse};
/// assert_eq!(parse("2 500 mg/L")?, (2500.0, Unit::MgPerL));
/// assert_eq!(parse("0,3 %")?, (0.3, Unit::Percent(None)));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn parse(text: &str) -> Result<(f64, Unit)> {
    let refuse = || StrengthError::NotAStrength { text: shortened(text) };
    let trimmed = text.trim();
    if trimmed.chars().count() > LONGEST {
        return Err(refuse().into());
    }
    let (digits, unit) = split(trimmed).ok_or_else(refuse)?;
    let unit: Unit = unit.parse()?;
    if let Some((thousands, decimal)) = two_readings(digits) {
        return Err(StrengthError::AmbiguousNumber { text: shortened(text), thousands, decimal }.into());
    }
    let value = number(digits).ok_or_else(refuse)?;
    check_value(value, unit)?;
    Ok((value, unit))
}

/// Splits the number off; both parts must be there.
fn split(text: &str) -> Option<(&str, &str)> {
    let is_number = |c: char| c.is_ascii_digit() || c.is_whitespace() || ".,+-".contains(c);
    let mut end = text.find(|c| !is_number(c))?;
    let (mantissa, rest) = text.split_at_checked(end)?;
    if let Some(power) = rest.strip_prefix(['e', 'E']).filter(|_| mantissa.ends_with(|c: char| c.is_ascii_digit())) {
        let length = power.find(|c: char| !(c.is_ascii_digit() || c == '+' || c == '-')).unwrap_or(power.len());
        end += 1 + length;
    }
    let (digits, unit) = text.split_at_checked(end)?;
    if digits.trim().is_empty() || unit.trim().is_empty() { None } else { Some((digits.trim(), unit.trim())) }
}

/// "2,500" and its like: the number with the comma grouping thousands, and with a decimal comma.
fn two_readings(digits: &str) -> Option<(String, String)> {
    let (whole, rest) = digits.split_once(',')?;
    let three = rest.len() == 3 && rest.bytes().all(|b| b.is_ascii_digit());
    let group = (1..=3).contains(&whole.len()) && whole.bytes().all(|b| b.is_ascii_digit()) && !whole.starts_with('0');
    if three && group { Some((format!("{whole}{rest}"), format!("{whole}.{rest}"))) } else { None }
}

/// Reads the number itself; `None` when it is not one.
fn number(digits: &str) -> Option<f64> {
    let (sign, digits) = match digits.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, digits.strip_prefix('+').unwrap_or(digits)),
    };
    // Where both signs occur, the last one is the decimal sign.
    let (point, comma) = (digits.rfind('.'), digits.rfind(','));
    let (decimal, grouping) = match (point, comma) {
        (Some(p), Some(c)) if c > p => (',', Some('.')),
        (Some(_), Some(_)) => ('.', Some(',')),
        (None, Some(_)) if digits.matches(',').count() > 1 => ('.', Some(',')),
        (None, Some(_)) => (',', None),
        (Some(_), None) if digits.matches('.').count() > 1 => (',', Some('.')),
        _ => ('.', None),
    };
    let (whole, fraction) = match digits.split_once(decimal) {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (digits, None),
    };
    let is_group = |c: char| c.is_whitespace() || Some(c) == grouping;
    let plain = if whole.contains(is_group) { ungrouped(whole, is_group)? } else { whole.to_owned() };
    let text = match fraction {
        Some(fraction) => format!("{plain}.{fraction}"),
        None => plain,
    };
    let starts_well = text.starts_with(|c: char| c.is_ascii_digit() || c == '.');
    let clean = text.bytes().all(|b| b.is_ascii_digit() || b".eE+-".contains(&b));
    if starts_well && clean { text.parse::<f64>().ok().map(|x| sign * x) } else { None }
}

/// Joins groups of thousands; the first has one to three digits, all others three.
fn ungrouped(whole: &str, is_group: impl Fn(char) -> bool) -> Option<String> {
    let groups: Vec<&str> = whole.split(is_group).collect();
    let (first, others) = groups.split_first()?;
    let digits = |group: &str| group.bytes().all(|b| b.is_ascii_digit());
    let good = (1..=3).contains(&first.len()) && digits(first) && others.iter().all(|g| g.len() == 3 && digits(g));
    if good { Some(groups.concat()) } else { None }
}
