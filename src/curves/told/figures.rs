//! What a strength curve hands over.

use serde::{Deserialize, Serialize};

use crate::curves::find::{Best, BestsCompared, Compared, StrengthFor};
use crate::curves::input::CurveInput;
use crate::curves::shape::Shape;
use crate::math::search::Verdict;
use crate::rates::TraySpread;

/// A parameter in plain words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Parameter {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: f64,
    /// Its unit.
    pub unit: String,
}

/// One shape fitted to one curve's counts.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ShapeFit {
    /// The shape.
    pub shape: Shape,
    /// Its Akaike weight.
    pub weight: f64,
    /// Its share in the averages: its weight among the shapes that the strengths' own rates do not contradict.
    pub say: f64,
    /// Akaike's criterion with correction for few units, on effective counts.
    pub aicc: f64,
    /// Log-likelihood of the effective counts, with binomial coefficients.
    pub loglik: f64,
    /// Twice the log-likelihood lost against a rate of its own for every strength.
    pub deviance: f64,
    /// Degrees of freedom of the lack of fit.
    pub lack_df: f64,
    /// P of the lack of fit; none without degrees of freedom.
    pub lack_p: Option<f64>,
    /// Parameters.
    pub parameters: Vec<Parameter>,
    /// Plain verdict on the fit.
    pub verdict: Verdict,
    /// Why, when it is not "fitted".
    pub reason: Option<String>,
    /// Steps of all searches.
    pub iterations: u64,
    /// Searches from different starts, and how many ended at the highest top.
    pub searches: u64,
    /// Searches that ended at the highest top.
    pub searches_agreeing: u64,
    /// Largest slope of the log-likelihood left at the fit.
    pub gradient_max: f64,
}

/// A shape that was not fitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ShapeOut {
    /// The shape.
    pub shape: Shape,
    /// Why.
    pub why: String,
}

/// The counts of one strength.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthLevel {
    /// Strength.
    pub strength: f64,
    /// Trays.
    pub n_units: u64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Take rate.
    pub value: f64,
    /// Lower limit, without any curve.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// The curve there.
    pub fitted: f64,
    /// Rising or falling rates of largest likelihood, whichever is likelier.
    pub monotone: f64,
    /// One-hump rates of largest likelihood.
    pub one_hump: f64,
}

/// The averaged curve at closely spaced strengths.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Line {
    /// Strengths.
    pub strength: Vec<f64>,
    /// Take rates.
    pub value: Vec<f64>,
    /// Lower limits, strength by strength.
    pub low: Vec<f64>,
    /// Upper limits.
    pub high: Vec<f64>,
}

/// One curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OneCurve {
    /// Its levels of the columns in `within`.
    pub levels: Vec<String>,
    /// "K12", or "all trays".
    pub name: String,
    /// Trays.
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// `d0` of `ln(1 + d / d0)`.
    pub zero_scale: f64,
    /// Degrees of freedom by which its limits are judged; none for the normal law.
    #[serde(default)]
    pub df: Option<f64>,
    /// Shapes by falling weight.
    pub shapes: Vec<ShapeFit>,
    /// Shapes left out.
    pub out: Vec<ShapeOut>,
    /// Counts at each strength.
    pub strengths: Vec<StrengthLevel>,
    /// The best strength.
    pub best: Best,
    /// The curve to draw.
    pub line: Line,
    /// True when all cuttings rooted, or none did.
    pub all_alike: bool,
    /// P of the lack of fit of all shapes by their weights; none without degrees of freedom.
    #[serde(default)]
    pub lack_p: Option<f64>,
}

impl OneCurve {
    /// The tested strengths around the best one, where the curve stands higher there than at any tested strength by more than `margin`: what
    /// it says of its top is then its shape's alone.
    pub(super) fn untested(&self, margin: f64) -> Option<(f64, f64)> {
        let top = self.strengths.iter().map(|one| one.fitted).fold(f64::NEG_INFINITY, f64::max);
        let best = self.best.strength.value;
        let below = self.strengths.iter().rfind(|one| one.strength < best)?;
        let above = self.strengths.iter().find(|one| one.strength > best)?;
        (self.best.take > top + margin).then_some((below.strength, above.strength))
    }
}

/// Curves of a trial.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthCurve {
    /// What was asked.
    pub input: CurveInput,
    /// The curves.
    pub curves: Vec<OneCurve>,
    /// Spread between trays, over all curves; none where trays are not counted or nothing shows it.
    pub spread: Option<TraySpread>,
    /// True where the planning correlation stands in, since no strength has two trays.
    pub spread_assumed: bool,
    /// Degrees of freedom of the spread; under a law of the trays those of all curves together.
    pub df: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
}

/// Strengths for a wanted take.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StrengthsFor {
    /// The wanted take, 0 to 1.
    pub take: f64,
    /// Unit of strengths.
    pub unit: String,
    /// Confidence level.
    pub confidence: f64,
    /// One row per curve and method; profile limits lead.
    pub rows: Vec<StrengthFor>,
}

/// Curves compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveDifferences {
    /// Names of the curves, the first is the one set against.
    pub names: Vec<String>,
    /// Tests and shifts.
    #[serde(flatten)]
    pub compared: Compared,
    /// Their best strengths, and whether these differ.
    #[serde(default)]
    pub bests: BestsCompared,
    /// The curve whose fitted take is the highest at every tested strength, as its place among the names.
    #[serde(default)]
    pub higher: Option<usize>,
    /// The rates of each curve's strengths as counted, in the order of the names, where no distance describes the curves.
    #[serde(default)]
    pub takes: Vec<Vec<StrengthLevel>>,
    /// Degrees of freedom of the spread.
    pub df: Option<f64>,
    /// Confidence level.
    pub confidence: f64,
}
