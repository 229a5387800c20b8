//! Where deaths have risen along the strengths: what is asked, and what is found.

use serde::{Deserialize, Serialize};

use crate::curves::input::{CurveInput, CurveOptions};
use crate::curves::told::{Line, OneCurve, ShapeFit, StrengthLevel};
use crate::estimate::TestResult;

/// Options of [`damage_threshold`](crate::curves::damage_threshold()).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DamageOptions {
    /// Curves, level, trays and axis, as for a strength curve.
    pub curve: CurveOptions,
    /// The rise of deaths over those at the lowest strength that counts as damage, a proportion.
    pub rise: f64,
}

impl Default for DamageOptions {
    fn default() -> Self {
        Self { curve: CurveOptions::default(), rise: 0.05 }
    }
}

/// The lowest strength at which deaths have risen by the wanted size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[allow(clippy::struct_excessive_bools)] // Each is a fact of its own, and a field of the record.
pub struct Threshold {
    /// Where the averaged curve of deaths gets there; none when it does not within the tested range.
    pub value: Option<f64>,
    /// Lower limit: below it deaths have not risen by that much.
    pub low: f64,
    /// Upper limit; infinite where the tested range leaves it open.
    pub high: f64,
    /// True when both limits lie inside the tested range.
    pub located: bool,
    /// True where the steepness of a shape lies at the end of its range, so that the form alone chooses the place between two tested
    /// strengths; limits then span the tested strengths that show the rise.
    #[serde(default)]
    pub by_form: bool,
    /// True where so many died at the lowest strength already that deaths have no room for such a rise: then nothing can be said.
    #[serde(default)]
    pub no_room: bool,
    /// True where deaths have risen by that much at the lowest strength above 0 already, or the lower limit is 0: no tested strength is
    /// shown to be safe.
    #[serde(default)]
    pub from_first: bool,
}

/// Deaths along the strengths of one curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DamageCurve {
    /// Its levels of the columns in `within`.
    pub levels: Vec<String>,
    /// "K12", or "all trays".
    pub name: String,
    /// Trays.
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Where deaths have risen.
    pub threshold: Threshold,
    /// Deaths at the lowest strength, a proportion of the cuttings stuck, with limits from the averaged curve; as counted, with limits of
    /// their own, where all or none of its cuttings died.
    pub lowest: [f64; 3],
    /// Deaths at the highest strength.
    pub highest: [f64; 3],
    /// The largest rise over the lowest strength that the strengths' own limits leave possible at any other, a proportion.
    #[serde(default)]
    pub possible_rise: f64,
    /// Do deaths differ between strengths at all? A rate of its own for each against one for all.
    pub test: TestResult,
    /// Deaths at each strength, as `rooted` of `stuck`.
    pub strengths: Vec<StrengthLevel>,
    /// The shapes that deaths were fitted with.
    pub shapes: Vec<ShapeFit>,
    /// The averaged curve of deaths.
    pub line: Line,
    /// Rooted among survivors: the curve of its own; none where fewer than two strengths have survivors.
    pub survivors: Option<OneCurve>,
    /// Cuttings rooted at each strength.
    pub rooted: Vec<u64>,
}

/// Damage along the strengths of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DamageThreshold {
    /// The trays, with deaths in the place of `rooted`.
    pub input: CurveInput,
    /// The rise that counts as damage.
    pub rise: f64,
    /// The curves.
    pub curves: Vec<DamageCurve>,
    /// Degrees of freedom of the spread of deaths between trays.
    pub df: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
}
