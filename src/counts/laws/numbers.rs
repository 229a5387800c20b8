//! What is asked of plain counts, and what is answered: plain data.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::math::regression::counts::{CountLaw, Zeros};

/// A law of counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LawOfCounts {
    /// Variance as large as the mean.
    Poisson,
    /// Variance above the mean, by a spread.
    NegativeBinomial,
    /// Counts of 1 or more alone.
    TruncatedPoisson,
    /// The same with a spread.
    TruncatedNegativeBinomial,
    /// Any or none first, then how many of those that have any.
    HurdlePoisson,
    /// The same with a spread.
    HurdleNegativeBinomial,
    /// Some have none for a reason of their own, beside those that have none by the law.
    ZeroInflatedPoisson,
    /// The same with a spread.
    ZeroInflatedNegativeBinomial,
}

choice!(
    LawOfCounts, "law of counts":
    Poisson = "poisson",
    NegativeBinomial = "negative-binomial",
    TruncatedPoisson = "truncated-poisson",
    TruncatedNegativeBinomial = "truncated-negative-binomial",
    HurdlePoisson = "hurdle-poisson",
    HurdleNegativeBinomial = "hurdle-negative-binomial",
    ZeroInflatedPoisson = "zero-inflated-poisson",
    ZeroInflatedNegativeBinomial = "zero-inflated-negative-binomial",
);

impl LawOfCounts {
    /// The law of those that have any, or of all, and what becomes of zeros.
    #[must_use]
    pub fn parts(self) -> (CountLaw, Zeros) {
        use CountLaw::{NegativeBinomial, Poisson};
        match self {
            Self::Poisson => (Poisson, Zeros::Plain),
            Self::NegativeBinomial => (NegativeBinomial, Zeros::Plain),
            Self::TruncatedPoisson => (Poisson, Zeros::Truncated),
            Self::TruncatedNegativeBinomial => (NegativeBinomial, Zeros::Truncated),
            Self::HurdlePoisson => (Poisson, Zeros::Apart),
            Self::HurdleNegativeBinomial => (NegativeBinomial, Zeros::Apart),
            Self::ZeroInflatedPoisson => (Poisson, Zeros::Added),
            Self::ZeroInflatedNegativeBinomial => (NegativeBinomial, Zeros::Added),
        }
    }

    /// The laws without and with a spread that do so with zeros.
    pub(super) fn family(zeros: Zeros) -> [Self; 2] {
        match zeros {
            Zeros::Plain => [Self::Poisson, Self::NegativeBinomial],
            Zeros::Truncated => [Self::TruncatedPoisson, Self::TruncatedNegativeBinomial],
            Zeros::Apart => [Self::HurdlePoisson, Self::HurdleNegativeBinomial],
            Zeros::Added => [Self::ZeroInflatedPoisson, Self::ZeroInflatedNegativeBinomial],
        }
    }

    pub(super) fn is_wide(self) -> bool {
        self.parts().0 == CountLaw::NegativeBinomial
    }

    pub(super) fn zeros(self) -> Zeros {
        self.parts().1
    }
}

/// Counts as given, one entry per cutting.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GivenCounts {
    /// Counts.
    pub counts: Vec<u64>,
    /// Group of each count, by its place among `levels`.
    pub groups: Vec<u32>,
    /// What the groups are called; one name where there is one group.
    pub levels: Vec<String>,
    /// What else is known of each cutting.
    pub columns: Vec<GivenColumn>,
    /// What is known of `ln mean` of each; empty where nothing is.
    pub offset: Vec<f64>,
}

/// A column beside the groups: numbers, or 1 where the cutting is of a level and 0 where it is of the first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GivenColumn {
    /// Its name.
    pub name: String,
    /// The level that it is 1 for, and the one it is set against; none of numbers.
    pub level: Option<(String, String)>,
    /// One number for each cutting.
    pub values: Vec<f64>,
}

/// Options of [`super::count_law`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CountLawOptions {
    /// The law.
    pub law: LawOfCounts,
    /// Whether laws with zeros added are set beside the others too.
    pub zero_inflated: bool,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// What was counted, in the plural: "roots".
    pub name: String,
    /// What the groups are of: "strength"; empty where nobody says.
    pub by: String,
}

impl Default for CountLawOptions {
    fn default() -> Self {
        Self {
            law: LawOfCounts::HurdleNegativeBinomial,
            zero_inflated: false,
            confidence: 0.95,
            name: "roots".to_owned(),
            by: String::new(),
        }
    }
}

/// A law of plain counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FittedCounts {
    /// What was counted.
    pub name: String,
    /// What the groups are of; empty where nobody said.
    pub by: String,
    /// The law.
    pub law: LawOfCounts,
    /// Groups, in the order given.
    pub groups: Vec<GroupOfCounts>,
    /// What columns beside the groups do.
    pub effects: Vec<ColumnEffect>,
    /// Spread of the law: the variance is `mean + spread x mean^2`; 0 where it is the mean.
    pub spread: f64,
    /// Logarithm of the likelihood.
    pub loglik: f64,
    /// Numbers fitted.
    pub n_parameters: u64,
    /// Akaike's criterion: twice the numbers fitted less twice the logarithm of the likelihood.
    pub aic: f64,
    /// Laws beside each other, the likeliest for its numbers first.
    pub beside: Vec<LawBeside>,
    /// The last count that stands by itself where counts are listed; the entry after it holds all that are larger, if there is one.
    pub last_count: u64,
    /// Confidence level.
    pub confidence: f64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// True where means are those of all rows, each group given the columns and offsets of all: with columns or an offset.
    pub over_all_rows: bool,
}

/// One group.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GroupOfCounts {
    /// The group.
    pub group: String,
    /// Mean count, of all its cuttings.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit; none where nothing bounds it.
    pub high: Option<f64>,
    /// Share that has any, 0 to 1.
    pub any: f64,
    /// Its lower limit.
    pub any_low: Option<f64>,
    /// Its upper limit.
    pub any_high: Option<f64>,
    /// Mean count of those that have any; none where there are none.
    pub of_any: Option<f64>,
    /// Its lower limit.
    pub of_any_low: Option<f64>,
    /// Its upper limit.
    pub of_any_high: Option<f64>,
    /// Cuttings.
    pub n_cuttings: u64,
    /// Those that have any.
    pub n_any: u64,
    /// All counts together.
    pub total: u64,
    /// How often 0, 1, 2, ... was counted.
    pub observed: Vec<u64>,
    /// How often the law expects each.
    pub expected: Vec<f64>,
}

/// What a column acts on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EffectOn {
    /// Odds that a cutting has any.
    Any,
    /// Mean of the law, before zeros are taken out or added.
    Count,
    /// Odds that a zero is added.
    AddedZero,
}

choice!(
    EffectOn, "part of a law":
    Any = "any",
    Count = "count",
    AddedZero = "added-zero",
);

/// What one more of a column, or its level against the first, multiplies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ColumnEffect {
    /// The column.
    pub column: String,
    /// The level; none of numbers, where one more is meant.
    pub level: Option<String>,
    /// The level that it is set against.
    pub against: Option<String>,
    /// What is multiplied: odds or a mean.
    pub on: EffectOn,
    /// By how much.
    pub value: f64,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
}

/// A law beside the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LawBeside {
    /// The law.
    pub law: LawOfCounts,
    /// Logarithm of the likelihood; none where the law could not be fitted.
    pub loglik: Option<f64>,
    /// Numbers fitted.
    pub n_parameters: u64,
    /// Akaike's criterion.
    pub aic: Option<f64>,
    /// How far that lies above the least of all.
    pub behind: Option<f64>,
    /// Zeros that it expects.
    pub zeros: Option<f64>,
    /// Its spread.
    pub spread: Option<f64>,
    /// Why it could not be fitted.
    pub why: Option<String>,
}
