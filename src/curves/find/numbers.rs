//! What is found along fitted curves: the best strength, strengths for a take, how curves differ.

use serde::{Deserialize, Serialize};

use crate::answer::Scale;
use crate::choice::choice;
use crate::curves::shape::Shape;
use crate::estimate::TestResult;

/// Can the best strength be told?
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Located {
    /// Both limits lie inside the tested range.
    #[serde(rename = "located")]
    Inside,
    /// It may lie at or above the highest strength tested.
    #[serde(rename = "not located: may lie at or above the highest strength")]
    High,
    /// The lowest strength tested is not ruled out as the best.
    #[serde(rename = "not located: the lowest strength may be the best")]
    Low,
    /// Neither end is ruled out.
    #[serde(rename = "not located: no strength is shown to be the best")]
    Nowhere,
}

/// A strength with limits. A limit at an end of the tested range is open: the strength may lie there or beyond.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthLimits {
    /// Estimate, in the unit of the strengths.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// True when the lower end of the tested range is not ruled out.
    pub open_low: bool,
    /// True when the upper end of the tested range is not ruled out.
    pub open_high: bool,
}

impl StrengthLimits {
    /// The limits with the open ones where they are not the ends of the tested range: 0, below which no strength is, and no end upward.
    pub(crate) fn reach(&self) -> (f64, f64) {
        (if self.open_low { 0.0 } else { self.low }, if self.open_high { f64::INFINITY } else { self.high })
    }
}

/// Why the best strength of a curve is not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Withheld {
    /// All cuttings rooted, or none did.
    AllAlike,
    /// Fewer than three strengths.
    FewStrengths,
    /// The shapes, by their weights, are contradicted by the strengths' own takes.
    NoCurveFits,
    /// The tested strengths do not enclose it.
    NotLocated,
}

impl Withheld {
    /// True where there is no curve whose highest place would mean anything.
    pub(super) fn has_no_curve(self) -> bool {
        self != Self::NotLocated
    }
}

/// Percentile limits over drawn trials.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Bootstrap {
    /// Trials drawn.
    pub draws: u64,
    /// Lower limit of the best strength.
    pub low: f64,
    /// Upper limit of the best strength.
    pub high: f64,
    /// Share of the drawn trials whose best strength was the lowest tested.
    pub at_lowest: f64,
    /// Share of the drawn trials whose best strength was the highest tested.
    pub at_highest: f64,
    /// Lower limit of the lowest adequate strength.
    pub adequate_low: f64,
    /// Upper limit of the lowest adequate strength.
    pub adequate_high: f64,
}

/// The best strength and its neighbours.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Best {
    /// Where the averaged take is highest within the tested range, with the profile-likelihood limits
    /// of all shapes together.
    pub strength: StrengthLimits,
    /// What can be said of it.
    pub located: Located,
    /// The take there.
    pub take: f64,
    /// Its lower limit.
    pub take_low: f64,
    /// Its upper limit.
    pub take_high: f64,
    /// Lowest strength not shown to be worse than the best by more than the margin.
    pub range_low: f64,
    /// Highest such strength.
    pub range_high: f64,
    /// True when all strengths between the two are so.
    pub range_whole: bool,
    /// The lowest strength that reaches the wanted share of the best take.
    pub adequate: StrengthLimits,
    /// Why the best strength is not stated; none where it is. The numbers stand here all the same.
    #[serde(default)]
    pub withheld: Option<Withheld>,
    /// Percentile limits of the best strength over drawn trials, where trials were drawn.
    pub bootstrap: Option<Bootstrap>,
}

/// What is asked of the best strength.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Wanted {
    pub(crate) confidence: f64,
    pub(crate) margin: f64,
    pub(crate) share: f64,
}

/// Where the best strength lies, and the strengths that do nearly as well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    pub(crate) strength: StrengthLimits,
    pub(crate) located: Located,
    /// Lowest and highest strength not shown to be worse than the best by more than the margin; are all between them so?
    pub(crate) range: (f64, f64, bool),
}

/// What the limits of a strength for a wanted take come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StrengthMethod {
    /// The profile likelihood of all shapes.
    Profile,
    /// The first-order standard error, of the leading shape.
    Delta,
    /// Fieller's limits, where the leading shape is a straight line.
    Fieller,
}

choice!(
    StrengthMethod, "method of a strength for a take":
    Profile = "profile",
    Delta = "delta",
    Fieller = "fieller",
);

/// A strength for a wanted take by one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthFor {
    /// The curve's name.
    pub curve: String,
    /// What its limits come from.
    pub method: StrengthMethod,
    /// The shape, or "averaged over shapes".
    pub shape: String,
    /// The lowest strength with that take; none when the curve does not reach it.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: f64,
    /// Upper limit: the highest strength at which the take may be reached first; infinite where that may lie beyond what was tested.
    pub high: f64,
    /// True where the curve may never reach the take, whatever the upper limit; of the leading method.
    #[serde(default)]
    pub or_never: bool,
    /// True where the curve falls again within the tested strengths; limits then end where the take is still possible, or it is never reached.
    #[serde(default)]
    pub falls: bool,
    /// True when the value lies outside the tested strengths, at most half as much again above the highest.
    pub outside: bool,
    /// The take at strength 0 with its limits, where that was tested; of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub without: Option<[f64; 3]>,
    /// The strength where the take is highest within what was tested, that take and its limits, where the wanted one is not reached;
    /// of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest: Option<[f64; 4]>,
    /// P of the lack of fit of all shapes by their weights; of the leading method.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lack_p: Option<f64>,
}

/// One curve set against the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Shift {
    /// The curve.
    pub curve: String,
    /// The first curve.
    pub against: String,
    /// "relative potency" (strength of the first over strength of this one for the same take), "odds ratio", or "shift on
    /// log(1 + d/d0)".
    pub measure: String,
    /// Estimate.
    pub value: f64,
    /// Lower profile limit.
    pub low: f64,
    /// Upper profile limit.
    pub high: f64,
}

impl Shift {
    /// What the distance is.
    pub(crate) fn scale(&self) -> Scale {
        match self.measure.as_str() {
            "relative potency" => Scale::Ratio,
            measure if measure.starts_with("odds ratio") => Scale::OddsRatio,
            _ => Scale::Plain,
        }
    }
}

/// Curves compared under one shape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Compared {
    /// The shape all curves are fitted with.
    pub shape: Shape,
    /// "same form": own parameters against one form at different places. "same curve": different places against one curve.
    /// "no difference": own parameters against one curve. "same but for height": own parameters against one form at different heights.
    /// "same height": different heights against one; judged by bays where these carry the level, and then the first three are withheld,
    /// since places and levels cannot be told apart there.
    pub tests: Vec<TestResult>,
    /// Each curve against the first, where one form is fitted to all.
    pub distances: Vec<Shift>,
    /// Heights of one form against that of the first curve, as odds ratios.
    #[serde(default)]
    pub heights: Vec<Shift>,
}

/// The best strength of one of the curves compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BestOf {
    /// The curve.
    pub curve: String,
    /// The best strength.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Can it be told?
    pub located: Located,
    /// Why the curve does not state it; none where it does.
    #[serde(default)]
    pub withheld: Option<Withheld>,
    /// Lowest strength not shown to be worse than the best by more than the margin.
    pub range_low: f64,
    /// Highest such strength.
    pub range_high: f64,
}

/// The best strengths of the curves compared.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BestsCompared {
    /// One for each curve.
    pub each: Vec<BestOf>,
    /// True where two best strengths are shown to differ; none where not every curve states its own.
    pub differ: Option<bool>,
    /// Strengths from here ...
    pub suits_from: Option<f64>,
    /// ... to here are not shown to be worse than the best of any curve by more than the margin.
    pub suits_to: Option<f64>,
}
