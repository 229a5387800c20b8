//! From one unit or substance to another.

use super::strength::Strength;
use super::substance::Substance;
use super::unit::{Basis, Unit, check_value};
use crate::error::{Result, StrengthError};

/// Milligrams per litre or per kilogram that one of `unit` stands for.
fn milligrams(unit: Unit, substance: &Substance) -> Result<f64> {
    Ok(match unit {
        Unit::MgPerL | Unit::MgPerKg | Unit::Ppm(_) => 1.0,
        Unit::GPerL | Unit::GPerKg => 1e3,
        Unit::Percent(_) => 1e4,
        Unit::Millimolar => substance.required_molar_mass()?,
        Unit::Micromolar => substance.required_molar_mass()? / 1e3,
    })
}

/// The same strength in another unit on the same basis; plain "ppm" and "%" take the basis of `from`.
///
/// `value * a / b`, with `a` and `b` the milligrams per litre (per kilogram) in one unit; 1 mM is the molar mass in mg/L.
///
/// # Errors
/// [`StrengthError::MixedBasis`] between weight per volume and weight per weight; [`StrengthError::NoMolarMass`] for a
/// molar unit of an unknown substance; [`StrengthError::Negative`].
///
/// ```
/// use rootling::units::{Strength, Unit, convert};
/// let dip = Strength::with_method("IBA", "%", "quick dip")?;
/// assert_eq!(convert(0.3, &dip, Unit::MgPerL)?, 3000.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn convert(value: f64, from: &Strength, to: Unit) -> Result<f64> {
    check_value(value, from.unit())?;
    let target = to.on(from.basis());
    if target.basis() != Some(from.basis()) {
        return Err(StrengthError::MixedBasis { from: from.unit().to_string(), to: target.to_string() }.into());
    }
    if target == from.unit() {
        return Ok(value);
    }
    let (have, want) = (milligrams(from.unit(), from.substance())?, milligrams(target, from.substance())?);
    let converted = value * have / want;
    check_value(converted, target)?;
    Ok(converted)
}

/// The strength of another substance with as many molecules, in the unit of `from`: `value * M_to / M_from`.
///
/// Between a salt and its acid this is the same amount of active acid. Between different acids it is not the same effect.
///
/// # Errors
/// [`StrengthError::NoMolarMass`] when either substance has none; [`StrengthError::Negative`].
///
/// ```
/// use rootling::units::{Strength, Substance, equivalent};
/// let salt = Strength::new("K-IBA", "mg/L")?;
/// assert_eq!(equivalent(5000.0, &salt, &Substance::Iba)?.round(), 4211.0);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn equivalent(value: f64, from: &Strength, to: &Substance) -> Result<f64> {
    check_value(value, from.unit())?;
    if from.substance() == to || from.unit().is_molar() {
        return Ok(value);
    }
    let converted = value * to.required_molar_mass()? / from.substance().required_molar_mass()?;
    check_value(converted, from.unit())?;
    Ok(converted)
}

/// Strengths on one axis, in the unit of the first.
///
/// # Errors
/// [`StrengthError::MixedSubstance`] when the substances differ, [`StrengthError::MixedBasis`] when the bases do, and
/// as [`convert`].
///
/// ```
/// use rootling::units::{Strength, common_axis};
/// let (mg, g) = (Strength::new("IBA", "mg/L")?, Strength::new("IBA", "g/L")?);
/// assert_eq!(common_axis(&[(2500.0, mg), (5.0, g)])?, [2500.0, 5000.0]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn common_axis(strengths: &[(f64, Strength)]) -> Result<Vec<f64>> {
    let Some((_, first)) = strengths.first() else { return Ok(Vec::new()) };
    let place = |(value, strength): &(f64, Strength)| {
        if strength.substance() != first.substance() {
            let (first, second) = (first.substance().to_string(), strength.substance().to_string());
            return Err(StrengthError::MixedSubstance { first, second }.into());
        }
        convert(*value, strength, first.unit())
    };
    strengths.iter().map(place).collect()
}

/// A strength in mg/L or mg/kg, whichever its basis has.
pub(super) fn in_milligrams(value: f64, strength: &Strength) -> Result<f64> {
    convert(value, strength, milligram_unit(strength.basis()))
}

/// mg/L or mg/kg.
pub(super) const fn milligram_unit(basis: Basis) -> Unit {
    match basis {
        Basis::WeightPerVolume => Unit::MgPerL,
        Basis::WeightPerWeight => Unit::MgPerKg,
    }
}
