//! What the numbers of a strength column mean.

use serde::{Deserialize, Serialize};

use super::method::Method;
use super::substance::Substance;
use super::unit::{Basis, Unit};
use crate::error::{Error, Result, StrengthError};

/// A strength's meaning in plain words, as users write it and records keep it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct StrengthRecord {
    /// Name of the substance.
    pub substance: String,
    /// Unit.
    pub unit: String,
    /// Method of treatment.
    #[serde(default)]
    pub method: Option<String>,
    /// Solvent or powder.
    #[serde(default)]
    pub carrier: Option<String>,
    /// Molar mass in g/mol, for substances that are not known.
    #[serde(default)]
    pub molar_mass: Option<f64>,
}

/// The checked meaning of a strength: substance, unit, basis, and how it was applied.
///
/// ```
/// use rootling::units::{Basis, Strength};
/// assert!(Strength::new("IBA", "ppm").is_err());
/// let dip = Strength::with_method("IBA", "ppm", "quick dip")?;
/// assert_eq!(dip.basis(), Basis::WeightPerVolume);
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(try_from = "StrengthRecord", into = "StrengthRecord")]
pub struct Strength {
    substance: Substance,
    unit: Unit,
    method: Option<Method>,
    carrier: Option<String>,
    basis: Basis,
}

impl Strength {
    /// A strength in a unit that says its own basis.
    ///
    /// # Errors
    /// [`StrengthError`] when substance or unit is not usable, or plain "ppm" or "%" leaves the basis open.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(Strength::new("IBA", "mg/L").is_ok());
    /// assert!(Strength::new("IBA", "ppm").is_err()); // of what?
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(substance: &str, unit: &str) -> Result<Self> {
        Self::build(Substance::named(substance, None)?, unit.parse()?, None, None)
    }

    /// A strength with its method of treatment, which settles the basis of plain "ppm" and "%".
    ///
    /// # Errors
    /// As [`Strength::new`]; also when the method is unknown or contradicts the unit's basis.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(Strength::with_method("IBA", "ppm", "quick dip").is_ok());
    /// ```
    pub fn with_method(substance: &str, unit: &str, method: &str) -> Result<Self> {
        Self::build(Substance::named(substance, None)?, unit.parse()?, Some(method.parse()?), None)
    }

    /// A strength from its checked parts.
    ///
    /// # Errors
    /// [`StrengthError::BasisNotDeclared`] when nothing says the basis; [`StrengthError::BasisContradicted`] when unit,
    /// method and carrier disagree about it.
    ///
    /// ```
    /// use rootling::units::{Basis, Strength, Substance};
    /// let iba = Substance::named("IBA", None)?;
    /// let talc = Strength::build(iba, "%".parse()?, Some("talc".parse()?), None)?;
    /// assert_eq!(talc.basis(), Basis::WeightPerWeight);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn build(substance: Substance, unit: Unit, method: Option<Method>, carrier: Option<String>) -> Result<Self> {
        let carrier = carrier.map(|c| c.trim().to_owned()).filter(|c| !c.is_empty());
        let says = [
            unit.basis().map(|basis| (basis, unit.to_string())),
            method.and_then(|m| m.basis().map(|basis| (basis, m.to_string()))),
            carrier.as_deref().and_then(|c| carrier_basis(c).map(|basis| (basis, c.to_owned()))),
        ];
        let mut said = says.into_iter().flatten();
        let Some((basis, first)) = said.next() else {
            return Err(StrengthError::BasisNotDeclared { unit: unit.to_string() }.into());
        };
        if let Some((other, second)) = said.find(|(other, _)| *other != basis) {
            let (first_basis, second_basis) = (basis.to_string(), other.to_string());
            return Err(StrengthError::BasisContradicted { first, first_basis, second, second_basis }.into());
        }
        Ok(Self { substance, unit: unit.on(basis), method, carrier, basis })
    }

    /// The substance.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let dip = Strength::with_method("IBA", "ppm", "quick dip")?;
    /// assert_eq!(dip.substance(), Strength::new("IBA", "mg/L")?.substance());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub const fn substance(&self) -> &Substance {
        &self.substance
    }

    /// The unit, basis written out.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let dip = Strength::with_method("IBA", "ppm", "quick dip")?;
    /// assert_eq!(dip.unit().to_string(), "ppm w/v"); // the method settles the basis
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub const fn unit(&self) -> Unit {
        self.unit
    }

    /// The method of treatment.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let dip = Strength::with_method("IBA", "ppm", "quick dip")?;
    /// assert!(dip.method().is_some());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub const fn method(&self) -> Option<Method> {
        self.method
    }

    /// Solvent or powder.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let dip = Strength::with_method("IBA", "ppm", "quick dip")?;
    /// assert_eq!(dip.carrier(), None);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn carrier(&self) -> Option<&str> {
        self.carrier.as_deref()
    }

    /// Weight per volume or weight per weight.
    ///
    /// ```
    /// use rootling::units::{Basis, Strength};
    /// assert_eq!(Strength::new("IBA", "mg/L")?.basis(), Basis::WeightPerVolume);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub const fn basis(&self) -> Basis {
        self.basis
    }
}

/// The basis a carrier's name stands for; gels, creams and unknown carriers leave it open.
fn carrier_basis(carrier: &str) -> Option<Basis> {
    const LIQUIDS: [&str; 8] = ["water", "ethanol", "alcohol", "propanol", "methanol", "solution", "liquid", "acetone"];
    const SOLIDS: [&str; 5] = ["talc", "powder", "lanolin", "charcoal", "clay"];
    let plain = carrier.to_lowercase();
    let names = |list: &[&str]| list.iter().any(|word| plain.contains(word));
    match (names(&LIQUIDS), names(&SOLIDS)) {
        (true, false) => Some(Basis::WeightPerVolume),
        (false, true) => Some(Basis::WeightPerWeight),
        _ => None,
    }
}

impl TryFrom<StrengthRecord> for Strength {
    type Error = Error;

    fn try_from(record: StrengthRecord) -> Result<Self> {
        let substance = Substance::named(&record.substance, record.molar_mass)?;
        let method = record.method.as_deref().map(str::parse).transpose()?;
        Self::build(substance, record.unit.parse()?, method, record.carrier)
    }
}

impl From<Strength> for StrengthRecord {
    fn from(strength: Strength) -> Self {
        let molar_mass = match strength.substance {
            Substance::Other { molar_mass, .. } => molar_mass,
            _ => None,
        };
        Self {
            substance: strength.substance.to_string(),
            unit: strength.unit.to_string(),
            method: strength.method.map(|m| m.to_string()),
            carrier: strength.carrier,
            molar_mass,
        }
    }
}
