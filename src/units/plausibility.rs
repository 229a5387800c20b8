//! Strengths outside the usual range: a note, never a refusal.

use super::convert::{in_milligrams, milligram_unit};
use super::{Basis, Method, Strength, Substance};
use crate::answer::Note;
use crate::report::number;

/// Milligrams in a litre or kilogram of the pure substance; nothing can be stronger than that.
const PURE: f64 = 1e6;

/// Relative slack at the ends of a range, for values that come from a conversion.
const ROUNDING: f64 = 1e-9;

/// The range in mg/L (mg/kg) outside which a strength of the acid is unusual; `None` where too little is published.
///
/// Ranges from rooting trials and bulletins on woody cuttings: quick dip IBA 100-25,000, NAA 50-5000; dilute soak
/// 1-500 for either; talc IBA 500-10,000; paste and layering IBA 1000-100,000.
const fn usual(acid: &Substance, method: Method) -> Option<(f64, f64)> {
    match (method, acid) {
        (Method::QuickDip, Substance::Iba) => Some((100.0, 25_000.0)),
        (Method::QuickDip, Substance::Naa) => Some((50.0, 5000.0)),
        (Method::DiluteSoak, Substance::Iba | Substance::Naa) => Some((1.0, 500.0)),
        (Method::Talc, Substance::Iba) => Some((500.0, 10_000.0)),
        (Method::PasteOrLayering, Substance::Iba) => Some((1000.0, 100_000.0)),
        _ => None,
    }
}

/// The widest range over the methods of a basis, for a strength whose method was not said.
fn usual_by_any(acid: &Substance, basis: Basis) -> Option<(f64, f64)> {
    let methods = [Method::QuickDip, Method::DiluteSoak, Method::Talc, Method::PasteOrLayering];
    let of_basis = methods.into_iter().filter(|method| method.basis().is_none_or(|own| own == basis));
    of_basis.filter_map(|method| usual(acid, method)).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

const fn in_words(method: Method) -> &'static str {
    match method {
        Method::QuickDip => "a quick dip",
        Method::DiluteSoak => "a dilute soak",
        Method::Talc => "talc",
        Method::PasteOrLayering => "paste or layering",
    }
}

/// A note `unusual_strength` when the value lies outside the usual range of its method and substance.
///
/// Salts are judged by the acid they hold. Zero is the control and always usual. What is no strength at all gives no
/// note: checks elsewhere refuse it.
///
/// ```
/// use rootling::units::{Strength, plausibility};
/// let dip = Strength::with_method("IBA", "mg/L", "quick dip")?;
/// assert!(plausibility(2500.0, &dip).is_none());
/// assert!(plausibility(2.5, &dip).is_some());
/// # Ok::<(), rootling::Error>(())
/// ```
#[must_use]
pub fn plausibility(value: f64, strength: &Strength) -> Option<Note> {
    if value == 0.0 {
        return None;
    }
    let written = format!("{} at {} {}", strength.substance(), number(value), strength.unit());
    let weight = in_milligrams(value, strength).ok()?;
    let unit = milligram_unit(strength.basis());
    if weight > PURE {
        let text = format!("{written} is stronger than the pure substance; check unit and substance.");
        return Some(Note::new("unusual_strength", text));
    }
    let acid = strength.substance().acid();
    let (low, high) = match strength.method() {
        Some(method) => usual(&acid, method)?,
        None => usual_by_any(&acid, strength.basis())?,
    };
    let active = weight * acid.molar_mass()? / strength.substance().molar_mass()?;
    if (low * (1.0 - ROUNDING)..=high * (1.0 + ROUNDING)).contains(&active) {
        return None;
    }
    let (low, high) = (number(low), number(high));
    let Some(method) = strength.method().map(in_words) else {
        let text = format!(
            "{written} is unusual for any method (usual {low} to {high} {unit} of {acid}); check unit and substance, and name the method with Strength(method=...)."
        );
        return Some(Note::new("unusual_strength", text));
    };
    let text = format!(
        "{written} is unusual for {method} (usual {low} to {high} {unit} of {acid}); check unit and substance."
    );
    Some(Note::new("unusual_strength", text))
}
