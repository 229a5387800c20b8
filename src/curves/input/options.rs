//! What is asked of a strength curve.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::curves::shape::{Asked, ShapeChoice};
use crate::error::{CountError, CurveError, Result};
use crate::estimate::check_level;
use crate::math::regression::Link;
use crate::trial::Outcome;

/// How differences between trays of one strength enter a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CurveTrays {
    /// Counts divided by the design effect of their strength's trays, with one correlation for all curves.
    #[default]
    Auto,
    /// Counts divided by one dispersion: Pearson's, around rates of their own for all strengths.
    Dispersion,
    /// A beta law of the trays' rates with one correlation for each curve, by maximum likelihood.
    BetaBinomial,
    /// Normal effects of trays on the log odds with one standard deviation for each curve, by maximum likelihood.
    Random,
    /// Cuttings as if independent: asked for, and marked.
    Ignore,
}

choice!(
    CurveTrays, "use of trays":
    Auto = "auto",
    Dispersion = "dispersion",
    BetaBinomial = "beta-binomial",
    Random = "random",
    Ignore = "ignore",
);

impl CurveTrays {
    /// True for the laws that are fitted by maximum likelihood.
    #[must_use]
    pub fn is_law(self) -> bool {
        matches!(self, Self::BetaBinomial | Self::Random)
    }
}

/// What becomes of blocks, and of bays where strengths are laid out within them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BlocksUse {
    /// Taken out as shifts of the log odds where each strength stands in several.
    #[default]
    Auto,
    /// Their differences count as spread between trays.
    Spread,
}

choice!(
    BlocksUse, "use of blocks":
    Auto = "auto",
    Spread = "spread",
);

/// Options of [`strength_curve`](crate::curves::strength_curve).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct CurveOptions {
    /// The treatment that holds the strengths.
    pub column: String,
    /// Columns whose levels get a curve each.
    pub within: Vec<String>,
    /// Columns whose levels share one curve, each with a height of its own: a shift of the log odds that is taken out.
    pub common: Vec<String>,
    /// Levels of other treatments to stay within.
    pub at: BTreeMap<String, String>,
    /// A shape, or those that are weighed.
    pub shape: ShapeChoice,
    /// Link of the rising and falling shapes.
    pub link: Link,
    /// Confidence level, a proportion.
    pub confidence: f64,
    /// Difference of take rates (a proportion) from the best: the range holds strengths not shown to be more than so many fewer.
    pub nearly: f64,
    /// Share of the best take that is adequate.
    pub enough: f64,
    /// `d0` in `ln(1 + d / d0)`; the lowest strength above 0 when not given.
    pub zero_scale: Option<f64>,
    /// How trays enter.
    pub trays: CurveTrays,
    /// What becomes of blocks.
    pub blocks: BlocksUse,
    /// Trials drawn for bootstrap limits; none when 0.
    pub draws: u64,
    /// Seed of the drawn trials.
    pub seed: u64,
    /// What the curve is of.
    pub outcome: Outcome,
}

impl Default for CurveOptions {
    fn default() -> Self {
        Self {
            column: "strength".to_owned(),
            within: Vec::new(),
            common: Vec::new(),
            at: BTreeMap::new(),
            shape: ShapeChoice::Auto,
            link: Link::Logit,
            confidence: 0.95,
            nearly: 0.05,
            enough: 0.95,
            zero_scale: None,
            trays: CurveTrays::Auto,
            blocks: BlocksUse::Auto,
            draws: 0,
            seed: 1,
            outcome: Outcome::Take,
        }
    }
}

impl CurveOptions {
    /// Checks the numbers.
    pub(crate) fn check(&self) -> Result<Asked> {
        check_level(self.confidence)?;
        if !(self.nearly > 0.0 && self.nearly < 1.0) {
            return Err(CountError::OutOfRange { name: "nearly", value: self.nearly, low: 0.0, high: 1.0 }.into());
        }
        if !(self.enough > 0.0 && self.enough < 1.0) {
            return Err(CountError::OutOfRange { name: "enough", value: self.enough, low: 0.0, high: 1.0 }.into());
        }
        if let Some(value) = self.zero_scale.filter(|shift| !(shift.is_finite() && *shift > 0.0)) {
            return Err(CurveError::Shift { value }.into());
        }
        Ok(self.shape.into())
    }
}
