//! Hormone strengths that cannot be read, converted or put on one axis.

/// A strength that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StrengthError {
    /// Below zero or not finite.
    #[error("strength {value} {unit} is not a strength; it must be 0 or more and finite")]
    Negative {
        /// The value.
        value: f64,
        /// Its unit.
        unit: String,
    },
    /// Weight by volume against weight by weight.
    #[error(
        "{from} and {to} cannot share one axis: one is weight per volume, the other weight per weight; give the carrier's density or keep them apart"
    )]
    MixedBasis {
        /// Unit given.
        from: String,
        /// Unit wanted.
        to: String,
    },
    /// Two substances.
    #[error(
        "{first} and {second} are different substances and cannot share one axis; convert to one with `equivalent` or keep them apart"
    )]
    MixedSubstance {
        /// First substance.
        first: String,
        /// Second substance.
        second: String,
    },
    /// ppm without basis.
    #[error(
        "{unit:?} does not say weight per volume or weight per weight; write \"{unit} w/v\" for liquids or \"{unit} w/w\" for powders"
    )]
    BasisNotDeclared {
        /// The unit.
        unit: String,
    },
    /// Not a strength.
    #[error("{text:?} is not a strength; write a number and a unit, for example \"2500 mg/L\"")]
    NotAStrength {
        /// What was given.
        text: String,
    },
    /// No molar mass known.
    #[error("mM needs a molar mass, and none is known for {substance:?}; give molar_mass= in g/mol")]
    NoMolarMass {
        /// Substance.
        substance: String,
    },
    /// Unit, method and carrier disagree about the basis.
    #[error("{first:?} is {first_basis}, but {second:?} is {second_basis}; give liquids in mg/L and powders in mg/kg")]
    BasisContradicted {
        /// What was said first.
        first: String,
        /// Its basis.
        first_basis: String,
        /// What contradicts it.
        second: String,
        /// Its basis.
        second_basis: String,
    },
    /// Not a unit of strength.
    #[error(
        "{unit:?} is not a unit of strength; use mg/L, g/L, ppm w/v, % w/v, mM or µM for liquids, mg/kg, g/kg, ppm w/w or % w/w for powders"
    )]
    UnknownUnit {
        /// What was given.
        unit: String,
    },
    /// Not a method of treatment.
    #[error("{method:?} is not a method of treatment; use \"quick dip\", \"soak\", \"talc\" or \"paste\"")]
    UnknownMethod {
        /// What was given.
        method: String,
    },
    /// A comma that may be a decimal comma or group thousands.
    #[error("{text:?} can be read two ways; write {thousands} or {decimal}")]
    AmbiguousNumber {
        /// What was given.
        text: String,
        /// The number if the comma groups thousands.
        thousands: String,
        /// The number if it is a decimal comma.
        decimal: String,
    },
    /// No substance named.
    #[error("the substance has no name; give one, for example \"IBA\"")]
    NoSubstance,
    /// A molar mass that cannot be.
    #[error("molar mass {value} g/mol is not a mass; it must be above 0 and finite")]
    MolarMass {
        /// The value.
        value: f64,
    },
    /// A molar mass that is not the substance's.
    #[error(
        "molar mass {given} g/mol is not that of {substance} ({expected:.2} g/mol); leave molar_mass= out or name the other substance"
    )]
    MolarMassDiffers {
        /// Substance.
        substance: String,
        /// Given, g/mol.
        given: f64,
        /// Known, g/mol.
        expected: f64,
    },
}
