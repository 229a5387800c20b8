//! The names of the intervals.

use crate::choice::choice;

/// How an interval for one rate is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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

choice!(
    IntervalMethod, "interval method":
    Wald = "wald",
    Wilson = "wilson",
    WilsonCorrected = "wilson-corrected",
    ClopperPearson = "clopper-pearson",
    MidP = "mid-p",
    Jeffreys = "jeffreys",
    AgrestiCoull = "agresti-coull",
    Likelihood = "likelihood",
    Blaker = "blaker",
);

impl IntervalMethod {
    /// Whether the limits are a formula, without a search.
    pub(super) const fn is_closed_form(self) -> bool {
        matches!(self, Self::Wald | Self::Wilson | Self::WilsonCorrected | Self::AgrestiCoull)
    }

    /// Whether it counts single cuttings, so that effective counts, which are not whole, have none.
    pub(super) const fn needs_whole_counts(self) -> bool {
        matches!(self, Self::MidP | Self::Blaker)
    }

    /// How it is made, for a methods section.
    pub(crate) const fn in_words(self) -> &'static str {
        match self {
            Self::Wald => "the Wald interval, cut at 0 and 1, which is poor in small samples and near 0 and 100 %",
            Self::Wilson => "Wilson's score interval",
            Self::WilsonCorrected => "Wilson's score interval with continuity correction (Newcombe's method 4)",
            Self::ClopperPearson => "the exact interval of Clopper and Pearson",
            Self::MidP => "the mid-P interval (exact tails that count the observed number half)",
            Self::Jeffreys => {
                "the Jeffreys interval (posterior quantiles under the prior Beta(1/2, 1/2), 0 or 1 at the ends)"
            }
            Self::AgrestiCoull => "the interval of Agresti and Coull, cut at 0 and 1",
            Self::Likelihood => "the likelihood-ratio interval",
            Self::Blaker => "Blaker's exact interval",
        }
    }

    /// Whether the limits are points of beta distributions at one tail probability.
    pub(super) const fn has_beta_points(self) -> bool {
        matches!(self, Self::ClopperPearson | Self::Jeffreys)
    }
}
