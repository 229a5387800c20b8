//! Columns and levels found by the names that users give them.

use crate::error::{ChoiceError, Result};
use crate::trial::{Factor, Units};

/// The treatment or design column of that name.
pub(crate) fn column<'a>(units: &'a Units, name: &str) -> Result<&'a Factor> {
    units.factor(name).ok_or_else(|| {
        let known: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
        ChoiceError::new("column", name, &known).into()
    })
}

/// The code of a level given as text; numbers match by value, so `2500` finds `2500.0`.
pub(crate) fn code_of(factor: &Factor, level: &str) -> Result<u32> {
    let by_name = factor.levels.iter().position(|known| known == level);
    let number: Option<f64> = level.trim().parse().ok();
    let by_number = || factor.numbers.as_ref().and_then(|all| all.iter().position(|known| Some(*known) == number));
    let at = by_name.or_else(by_number).and_then(|at| u32::try_from(at).ok());
    at.ok_or_else(|| ChoiceError::new(&format!("level of {}", factor.name), level, &factor.levels).into())
}
