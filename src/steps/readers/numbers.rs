//! What is asked of two readers, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// How much two different answers still agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum GradeWeights {
    /// Not at all: only the same answer counts.
    #[default]
    Same,
    /// Less by the same share for each grade between them.
    Linear,
    /// Less by the square of the grades between them.
    Squared,
}

choice!(
    GradeWeights, "weights of grades":
    Same = "same",
    Linear = "linear",
    Squared = "squared",
);

impl GradeWeights {
    /// The agreement of two grades, 1 for the same and 0 for the ends of the scale (or, unweighted, for all that differ).
    #[must_use]
    pub fn of(self, first: usize, second: usize, grades: usize) -> f64 {
        let apart = first.abs_diff(second) as f64 / (grades.max(2) - 1) as f64;
        match self {
            Self::Same => f64::from(u8::from(first == second)),
            Self::Linear => 1.0 - apart,
            Self::Squared => 1.0 - apart * apart,
        }
    }
}

/// What is asked of two readers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AgreementOptions {
    /// Names of the answers, in the order of rows and columns; yes and no, or grades from 0, where none are given.
    pub answers: Vec<String>,
    /// How much two different answers still agree, in kappa.
    pub weights: GradeWeights,
    /// Confidence of the limits.
    pub confidence: f64,
}

impl Default for AgreementOptions {
    fn default() -> Self {
        Self { answers: Vec::new(), weights: GradeWeights::Same, confidence: 0.95 }
    }
}

/// How far two readers agree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Agreement {
    /// Plants read by both.
    pub n_plants: u64,
    /// Trays; None where none were recorded.
    pub n_units: Option<u64>,
    /// Share of plants on which the two agree.
    pub value: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// Share on which they would agree by chance, each answering as often as it did.
    pub by_chance: f64,
    /// How much two different answers still agree, in kappa.
    pub weights: GradeWeights,
    /// Agreement beyond chance; None where chance alone would make it full.
    pub kappa: Option<f64>,
    /// Its standard error.
    pub kappa_se: Option<f64>,
    /// Its lower limit.
    pub kappa_low: Option<f64>,
    /// Its upper limit.
    pub kappa_high: Option<f64>,
    /// Degrees of freedom of the limits of kappa; None for the normal law.
    pub df: Option<f64>,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Each answer.
    pub answers: Vec<GradeAgreement>,
}

/// How far two readers agree on one answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GradeAgreement {
    /// The answer.
    pub answer: String,
    /// Of the plants that either reader calls so (those called so by both counted twice), the share called so by both; None where
    /// neither gave it. For two answers the agreement on yes and on no.
    pub agreed: Option<f64>,
    /// Share of plants that the first reader calls so.
    pub first: f64,
    /// Share of plants that the second reader calls so.
    pub second: f64,
    /// Second minus first.
    pub difference: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
}
