//! What is found of a treatment whose differences may change with another.

use serde::{Deserialize, Serialize};

/// Below this P value a difference is said to change with another treatment.
const ALPHA: f64 = 0.05;

/// A difference at one level of another treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DifferenceAt {
    /// The level of the other treatment.
    pub level: String,
    /// The level that is subtracted.
    pub first: String,
    /// The level compared with it.
    pub second: String,
    /// Second minus first, a proportion.
    pub value: f64,
    /// Lower limit, as a comparison at this level alone gives it; none when nothing can be said.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
}

impl DifferenceAt {
    /// The direction that its own limits show: the sign of the difference, or 0.
    #[must_use]
    pub fn direction(&self) -> i8 {
        i8::from(self.low.is_some_and(|low| low > 0.0)) - i8::from(self.high.is_some_and(|high| high < 0.0))
    }
}

/// What is highest at one level of another treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HighestAt {
    /// The level of the other treatment.
    pub level: String,
    /// The level with the highest rate there.
    pub highest: String,
    /// Its rate, 0 to 1, as counted.
    pub value: f64,
}

/// Whether differences between levels of a treatment change with another treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Changing {
    /// The other treatment.
    pub treatment: String,
    /// What tested the interaction: "F", "F on whole plots", "F on bay".
    pub test: String,
    /// Its statistic.
    pub statistic: f64,
    /// Degrees of freedom of the interaction.
    pub df: f64,
    /// Degrees of freedom of the error.
    pub error_df: f64,
    /// P value of the interaction.
    pub p: f64,
    /// The same, adjusted after Holm where several other treatments were asked about.
    pub p_adjusted: f64,
    /// The difference at each level of the other treatment, where it is shown to change; of all levels only two that oppose each other.
    #[serde(default)]
    pub differences: Vec<DifferenceAt>,
    /// What is highest at each level of the other treatment, of all levels, where they are shown to change.
    #[serde(default)]
    pub highest: Vec<HighestAt>,
}

impl Changing {
    /// True where the adjusted P value is below 5 %.
    #[must_use]
    pub fn shown(&self) -> bool {
        self.p_adjusted < ALPHA
    }

    /// True where the difference is shown, by its own limits, to have opposite directions at levels of the other treatment.
    #[must_use]
    pub fn opposed(&self) -> bool {
        let any = |direction: i8| self.differences.iter().any(|one| one.direction() == direction);
        self.shown() && any(1) && any(-1)
    }
}

/// Those that are shown.
pub(in crate::compare) fn shown(all: &[Changing]) -> Vec<&Changing> {
    all.iter().filter(|one| one.shown()).collect()
}
