//! Contrasts as they are found: plain data.

use serde::{Deserialize, Serialize};

use super::goal::Scale;
use super::options::Adjust;
use crate::report::whole;

/// One contrast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Contrast {
    /// "strength 5000 against 2500".
    pub comparison: String,
    /// Level of the factor within which it was formed.
    pub within: Option<String>,
    /// The contrast: a difference of rates (0.12 is 12 trees per 100), a ratio, or an odds ratio; none when not estimable.
    pub value: Option<f64>,
    /// Standard error of a difference, by the delta method.
    pub se: Option<f64>,
    /// Lower limit; 0 where a ratio has no lower bound, none where nothing can be said.
    pub low: Option<f64>,
    /// Upper limit; infinite where a ratio has no upper bound, none where nothing can be said.
    pub high: Option<f64>,
    /// Signed root of the score (or likelihood ratio) statistic over the dispersion.
    pub statistic: Option<f64>,
    /// Degrees of freedom of its error; none for the binomial one.
    #[serde(default)]
    pub df: Option<f64>,
    /// P value of this contrast alone.
    pub p: Option<f64>,
    /// P value adjusted for the family.
    pub p_adjusted: Option<f64>,
    /// The largest contrast, either way, inside the limits; infinite where there is no bound.
    pub not_ruled_out: Option<f64>,
    /// Whether the interval lies within the margin.
    pub within_margin: Option<bool>,
    /// Why a figure above is not available; none where all are.
    #[serde(default)]
    pub why: Option<String>,
}

impl Contrast {
    /// True when one of the limits of a ratio is no bound.
    pub(super) fn one_sided(&self) -> bool {
        self.low
            .zip(self.high)
            .is_some_and(|(low, high)| low == 0.0 && self.value.is_some_and(|x| x != 0.0) || high.is_infinite())
    }
}

/// A family of contrasts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Contrasts {
    /// The factor.
    pub by: String,
    /// The factor within whose levels contrasts were formed.
    pub within: Option<String>,
    /// The factor with which they may change.
    pub changing_with: Option<String>,
    /// The level that all others were set against.
    pub against: Option<String>,
    /// The scale.
    pub scale: Scale,
    /// Name of the adjustment.
    pub together: Adjust,
    /// Confidence level of all intervals together (with no adjustment, of each).
    pub confidence: f64,
    /// Degrees of freedom of the error, the fewest where contrasts have their own; none for the binomial one.
    pub df: Option<f64>,
    /// Multiplier: limits are where the statistic meets it; none where contrasts have degrees of freedom of their own.
    pub critical: Option<f64>,
    /// The margin of equivalence.
    pub margin: Option<f64>,
    /// Contrasts that could be tested: the size of the family.
    pub n_tests: u64,
    /// The contrasts.
    pub contrasts: Vec<Contrast>,
}

impl Contrasts {
    /// "3 comparisons", or "the 1 comparison that can be estimated (2 cannot)".
    pub(crate) fn family(&self) -> String {
        let known = self.contrasts.iter().filter(|row| row.value.is_some()).count();
        let count = whole(known as u64, "comparison", "comparisons");
        let open = self.contrasts.len() - known;
        if open == 0 { count } else { format!("the {count} that can be estimated ({open} cannot)") }
    }

    /// True where P value and limits both show a difference.
    pub(crate) fn shows(&self, row: &Contrast) -> bool {
        row.p_adjusted.is_some_and(|p| p < 1.0 - self.confidence) && !self.parts(row)
    }

    /// True where the P value of a stepwise adjustment shows what the limits of all contrasts at once do not.
    pub(crate) fn parts(&self, row: &Contrast) -> bool {
        let neutral = if self.scale == Scale::Points { 0.0 } else { 1.0 };
        let small = row.p_adjusted.is_some_and(|p| p < 1.0 - self.confidence);
        small && row.low.zip(row.high).is_some_and(|(low, high)| low <= neutral && neutral <= high)
    }
}
