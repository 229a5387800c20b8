//! Units of strength and the two bases they stand on.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::shown::shortened;
use crate::error::{Error, Result, StrengthError};

/// Weight of hormone per volume of liquid, or per weight of powder or paste.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// w/v: mg per litre.
    WeightPerVolume,
    /// w/w: mg per kilogram.
    WeightPerWeight,
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::WeightPerVolume => "w/v",
            Self::WeightPerWeight => "w/w",
        })
    }
}

/// A unit of strength. 1 % w/v = 10 g/L = 10,000 mg/L; 1 ppm w/v = 1 mg/L; 1 ppm w/w = 1 mg/kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(try_from = "String", into = "String")]
pub enum Unit {
    /// Milligrams per litre.
    MgPerL,
    /// Grams per litre.
    GPerL,
    /// Milligrams per kilogram.
    MgPerKg,
    /// Grams per kilogram.
    GPerKg,
    /// Per cent, with its basis where it is written out.
    Percent(Option<Basis>),
    /// Parts per million, with the basis where it is written out.
    Ppm(Option<Basis>),
    /// Millimoles per litre.
    Millimolar,
    /// Micromoles per litre.
    Micromolar,
}

impl Unit {
    /// The basis the unit itself says; `None` for plain "ppm" and "%".
    #[must_use]
    pub const fn basis(self) -> Option<Basis> {
        match self {
            Self::MgPerL | Self::GPerL | Self::Millimolar | Self::Micromolar => Some(Basis::WeightPerVolume),
            Self::MgPerKg | Self::GPerKg => Some(Basis::WeightPerWeight),
            Self::Percent(basis) | Self::Ppm(basis) => basis,
        }
    }

    /// The unit with its basis written out; plain "ppm" and "%" take `basis`.
    #[must_use]
    pub const fn on(self, basis: Basis) -> Self {
        match self {
            Self::Percent(None) => Self::Percent(Some(basis)),
            Self::Ppm(None) => Self::Ppm(Some(basis)),
            other => other,
        }
    }

    /// Whether the unit counts molecules.
    #[must_use]
    pub const fn is_molar(self) -> bool {
        matches!(self, Self::Millimolar | Self::Micromolar)
    }
}

/// Refuses what is no strength.
///
/// # Errors
/// [`StrengthError::Negative`] below zero or when not finite.
pub(super) fn check_value(value: f64, unit: Unit) -> Result<()> {
    if value.is_finite() && value >= 0.0 {
        Ok(())
    } else {
        Err(StrengthError::Negative { value, unit: unit.to_string() }.into())
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::MgPerL => f.write_str("mg/L"),
            Self::GPerL => f.write_str("g/L"),
            Self::MgPerKg => f.write_str("mg/kg"),
            Self::GPerKg => f.write_str("g/kg"),
            Self::Percent(None) => f.write_str("%"),
            Self::Percent(Some(basis)) => write!(f, "% {basis}"),
            Self::Ppm(None) => f.write_str("ppm"),
            Self::Ppm(Some(basis)) => write!(f, "ppm {basis}"),
            Self::Millimolar => f.write_str("mM"),
            Self::Micromolar => f.write_str("µM"),
        }
    }
}

impl FromStr for Unit {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        // Molar units keep their case: "mm" is a length.
        match text.trim() {
            "mM" => return Ok(Self::Millimolar),
            "uM" | "µM" | "\u{3bc}M" => return Ok(Self::Micromolar),
            _ => {}
        }
        let plain: String = text.to_lowercase().chars().filter(|c| !c.is_whitespace() && !"()·".contains(*c)).collect();
        let plain = plain.replace("⁻¹", "-1").replace('\u{3bc}', "µ").replace("w/vol", "w/v");
        let (volume, weight) = (Some(Basis::WeightPerVolume), Some(Basis::WeightPerWeight));
        match plain.as_str() {
            "mg/l" | "mgl-1" | "mg/litre" | "mg/liter" | "µg/ml" | "ug/ml" => Ok(Self::MgPerL),
            "g/l" | "gl-1" | "g/litre" | "g/liter" | "mg/ml" => Ok(Self::GPerL),
            "mg/kg" | "mgkg-1" | "µg/g" | "ug/g" => Ok(Self::MgPerKg),
            "g/kg" | "gkg-1" | "mg/g" => Ok(Self::GPerKg),
            "%" | "percent" => Ok(Self::Percent(None)),
            "%w/v" | "%wv" | "percentw/v" | "w/v%" => Ok(Self::Percent(volume)),
            "%w/w" | "%ww" | "percentw/w" | "w/w%" => Ok(Self::Percent(weight)),
            "ppm" => Ok(Self::Ppm(None)),
            "ppmw/v" | "ppmwv" => Ok(Self::Ppm(volume)),
            "ppmw/w" | "ppmww" => Ok(Self::Ppm(weight)),
            "mmol/l" | "mmoll-1" => Ok(Self::Millimolar),
            "µmol/l" | "umol/l" | "µmoll-1" | "umoll-1" => Ok(Self::Micromolar),
            _ => Err(StrengthError::UnknownUnit { unit: shortened(text) }.into()),
        }
    }
}

impl TryFrom<String> for Unit {
    type Error = Error;

    fn try_from(text: String) -> Result<Self> {
        text.parse()
    }
}

impl From<Unit> for String {
    fn from(unit: Unit) -> Self {
        unit.to_string()
    }
}
