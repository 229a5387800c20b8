//! The names of the intervals.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{ChoiceError, Error, Result};

/// How an interval for one rate is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum IntervalMethod {
    /// Estimate plus and minus a normal quantile times its standard error; of whole counts it ends at 0 and 1.
    Wald,
    /// Score interval (Wilson 1927).
    Wilson,
    /// Score interval with continuity correction (Newcombe 1998, method 4).
    WilsonCorrected,
    /// Exact, both tails at most half of 1 - level (Clopper & Pearson 1934).
    ClopperPearson,
    /// Exact tails that count the observed number half.
    MidP,
    /// Equal-tailed posterior with the prior Beta(1/2, 1/2); 0 or 1 at the edges (Brown, Cai & `DasGupta` 2001).
    Jeffreys,
    /// Wald form around the score interval's centre; of whole counts it ends at 0 and 1 (Agresti & Coull 1998).
    AgrestiCoull,
    /// All rates whose likelihood ratio test is not rejected.
    Likelihood,
    /// Exact acceptability interval, never wider than Clopper-Pearson (Blaker 2000).
    Blaker,
}

impl IntervalMethod {
    /// Every method, in the order of the documentation.
    pub const ALL: [Self; 9] = [
        Self::Wald,
        Self::Wilson,
        Self::WilsonCorrected,
        Self::ClopperPearson,
        Self::MidP,
        Self::Jeffreys,
        Self::AgrestiCoull,
        Self::Likelihood,
        Self::Blaker,
    ];

    /// Whether the limits are a formula, without a search.
    pub(super) const fn is_closed_form(self) -> bool {
        matches!(self, Self::Wald | Self::Wilson | Self::WilsonCorrected | Self::AgrestiCoull)
    }

    /// Whether the limits are points of beta distributions at one tail probability.
    pub(super) const fn has_beta_points(self) -> bool {
        matches!(self, Self::ClopperPearson | Self::Jeffreys)
    }

    /// The name accepted by `method=`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Wald => "wald",
            Self::Wilson => "wilson",
            Self::WilsonCorrected => "wilson-corrected",
            Self::ClopperPearson => "clopper-pearson",
            Self::MidP => "mid-p",
            Self::Jeffreys => "jeffreys",
            Self::AgrestiCoull => "agresti-coull",
            Self::Likelihood => "likelihood",
            Self::Blaker => "blaker",
        }
    }
}

impl FromStr for IntervalMethod {
    type Err = Error;

    fn from_str(given: &str) -> Result<Self> {
        choose("interval method", given, &Self::ALL, Self::name)
    }
}

/// The option called `given`, or an error that lists all names and the nearest.
pub(crate) fn choose<T: Copy>(what: &str, given: &str, all: &[T], name: fn(T) -> &'static str) -> Result<T> {
    let found = all.iter().copied().find(|option| name(*option) == given);
    found.ok_or_else(|| {
        let known: Vec<&str> = all.iter().map(|option| name(*option)).collect();
        ChoiceError::new(what, given, &known).into()
    })
}
