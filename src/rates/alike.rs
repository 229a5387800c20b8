//! Trays that are more alike than chance makes them: said only where chance hardly does.

use crate::answer::Note;
use crate::math::distributions::chi_squared;
use crate::report::cautions::ALIKE_SINCE;
use crate::report::numbers;

/// The two-sided P value of a dispersion below 1: how often chance alone makes trays of one treatment so alike, or as unlike on the
/// other side. `dispersion` is Pearson's chi-square over its `df`. `None` from 1 on and without degrees of freedom.
///
/// ```
/// use rootling::rates::alike_p;
/// // R 4.2.2: 2 * pchisq(0.2 * 10, 10)
/// approx::assert_relative_eq!(alike_p(0.2, 10.0).unwrap_or(1.0), 0.007_319_693_654_7, epsilon = 0.0, max_relative = 1.3e-10);
/// assert_eq!(alike_p(1.2, 10.0), None);
/// ```
#[must_use]
pub fn alike_p(dispersion: f64, df: f64) -> Option<f64> {
    let below = df > 0.5 && dispersion < 1.0;
    below.then(|| {
        let x = dispersion.max(0.0) * df;
        (2.0 * chi_squared::cdf(x, df).min(chi_squared::sf(x, df))).min(1.0)
    })
}

/// A dispersion that chance alone does not make, in words; nothing is said where chance makes it in one trial of twenty or more.
pub(crate) fn more_alike(unit: &str, dispersion: Option<f64>, df: f64) -> Option<Note> {
    let phi = dispersion?;
    let p = alike_p(phi, df).filter(|p| *p < 0.05)?;
    let text = format!(
        "Rates of {} of one treatment differ less than chance makes them (dispersion {} on {}, {}); nothing is shrunk for it. \
         {ALIKE_SINCE}",
        numbers::plural(unit),
        numbers::number(phi),
        numbers::degrees_of_freedom(df),
        numbers::p_value(p)
    );
    Some(Note::new("underdispersion", text))
}

/// The same under a test whose error is how trays were seen to differ: comparisons and models, whose error is never below chance, say less.
pub(crate) fn leans_on_alike(unit: &str, dispersion: Option<f64>, df: f64) -> Option<Note> {
    let mut note = more_alike(unit, dispersion, df)?;
    note.text += " The P value here leans on it; compare and the model, whose error is never below what chance makes, \
                  are the safer answer.";
    Some(note)
}
