//! Rooting substances and their molar masses.

use std::fmt;

use super::formula::Formula;
use crate::error::{Result, StrengthError};

/// A rooting substance.
#[derive(Debug, Clone, PartialEq)]
pub enum Substance {
    /// Indole-3-butyric acid.
    Iba,
    /// Potassium indole-3-butyrate.
    KIba,
    /// 1-naphthaleneacetic acid.
    Naa,
    /// Potassium 1-naphthaleneacetate.
    KNaa,
    /// Indole-3-acetic acid.
    Iaa,
    /// Anything else, with its molar mass in g/mol where known.
    Other {
        /// The name as given.
        name: String,
        /// Molar mass, g/mol.
        molar_mass: Option<f64>,
    },
}

/// Largest relative gap between a given and a known molar mass: catalogues round and use older weights.
const MOLAR_MASS_GAP: f64 = 0.001;

impl Substance {
    /// Finds a substance by name; a molar mass (g/mol) is needed only for those that are not known.
    ///
    /// # Errors
    /// [`StrengthError::NoSubstance`] for an empty name; [`StrengthError::MolarMass`] unless the mass is positive and
    /// finite; [`StrengthError::MolarMassDiffers`] when it is not that of the named substance.
    ///
    /// ```
    /// use rootling::units::Substance;
    /// assert_eq!(Substance::named("K-IBA", None)?, Substance::KIba);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn named(name: &str, molar_mass: Option<f64>) -> Result<Self> {
        let name = name.trim();
        if name.is_empty() {
            return Err(StrengthError::NoSubstance.into());
        }
        if let Some(value) = molar_mass.filter(|m| !(m.is_finite() && *m > 0.0)) {
            return Err(StrengthError::MolarMass { value }.into());
        }
        let Some(known) = Self::known(name) else {
            return Ok(Self::Other { name: name.to_owned(), molar_mass });
        };
        if let (Some(given), Some(expected)) = (molar_mass, known.molar_mass())
            && (given - expected).abs() > MOLAR_MASS_GAP * expected
        {
            return Err(StrengthError::MolarMassDiffers { substance: known.to_string(), given, expected }.into());
        }
        Ok(known)
    }

    fn known(name: &str) -> Option<Self> {
        let plain: String = name.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
        match plain.as_str() {
            "iba" | "indole3butyricacid" | "indolebutyricacid" => Some(Self::Iba),
            "kiba" | "ibak" | "potassiumindole3butyrate" => Some(Self::KIba),
            "naa" | "1naphthaleneaceticacid" | "naphthaleneaceticacid" => Some(Self::Naa),
            "knaa" | "naak" | "potassium1naphthaleneacetate" => Some(Self::KNaa),
            "iaa" | "indole3aceticacid" | "indoleaceticacid" => Some(Self::Iaa),
            _ => None,
        }
    }

    /// Molar mass in g/mol, from the formula and abridged standard atomic weights.
    ///
    /// ```
    /// use rootling::units::Substance;
    /// let mass = Substance::Iba.molar_mass().unwrap_or(f64::NAN);
    /// approx::assert_relative_eq!(mass, 203.241, epsilon = 0.0, max_relative = 4.9e-12);
    /// ```
    #[must_use]
    pub fn molar_mass(&self) -> Option<f64> {
        let formula = match self {
            Self::Iba => Formula { h: 13, c: 12, n: 1, o: 2, ..Formula::default() },
            Self::KIba => Formula { h: 12, c: 12, n: 1, o: 2, k: 1, ..Formula::default() },
            Self::Naa => Formula { h: 10, c: 12, o: 2, ..Formula::default() },
            Self::KNaa => Formula { h: 9, c: 12, o: 2, k: 1, ..Formula::default() },
            Self::Iaa => Formula { h: 9, c: 10, n: 1, o: 2, ..Formula::default() },
            Self::Other { molar_mass, .. } => return *molar_mass,
        };
        Some(formula.molar_mass())
    }

    /// The molar mass, or a refusal.
    ///
    /// # Errors
    /// [`StrengthError::NoMolarMass`].
    pub(super) fn required_molar_mass(&self) -> Result<f64> {
        self.molar_mass().ok_or_else(|| StrengthError::NoMolarMass { substance: self.to_string() }.into())
    }

    /// The acid that a salt gives off in solution; an acid is its own.
    #[must_use]
    pub fn acid(&self) -> Self {
        match self {
            Self::KIba => Self::Iba,
            Self::KNaa => Self::Naa,
            other => other.clone(),
        }
    }
}

impl fmt::Display for Substance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Iba => "IBA",
            Self::KIba => "K-IBA",
            Self::Naa => "NAA",
            Self::KNaa => "K-NAA",
            Self::Iaa => "IAA",
            Self::Other { name, .. } => name,
        })
    }
}
