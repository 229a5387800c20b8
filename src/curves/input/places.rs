//! Places that trays stand in, as they are taken out, carry the level of curves, or are what takes hold over.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

/// The blocks that are taken out of the curves.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveBlocks {
    /// "bench", or "bench and bay".
    pub column: String,
    /// Their names; a tray's block counts into this list.
    pub levels: Vec<String>,
    /// The recorded places among the columns, "season and bench"; empty where levels of treatments alone are taken out.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub places: String,
}

/// How well the level of one curve is known over places.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelOverBays {
    /// Independent cuttings that would say as much of the curve's mean take.
    pub effective: f64,
    /// Degrees of freedom of its variance.
    pub df: f64,
    /// The share of a cutting's variance that lies within places.
    #[serde(default = "all_of_it")]
    pub within: f64,
}

/// Nothing lies between places where it is not told.
fn all_of_it() -> f64 {
    1.0
}

/// The places that are taken out, with bays that carry the level, over which takes hold.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurvePlaces {
    /// Their columns, "season and bench".
    pub column: String,
    /// The least degrees of freedom between levels of one of them.
    pub df: f64,
    /// One for each curve, in their order.
    pub curves: Vec<LevelOverBays>,
}

/// The bays that carry the level of the curves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CurveBays {
    /// The bays' column.
    pub column: String,
    /// The treatments given to them, "heat".
    pub given: String,
    /// True where curves stand for levels of such a treatment, so that their levels are compared between bays.
    pub between: bool,
    /// Degrees of freedom between bays of one treatment, of all differences between curves where these stand for its levels; 0 where each treatment
    /// had a single bay, or seasons lie unevenly over its levels.
    pub df: f64,
    /// How well the level of each curve is known beside those of the others, in their order.
    pub curves: Vec<LevelOverBays>,
    /// How the curves' mean takes vary together, in variances of a cutting: curves stand in the same bays where darkness changed its bay.
    #[serde(default = "none_known", with = "crate::math::dense::rows")]
    #[cfg_attr(test, schemars(with = "Vec<Vec<f64>>"))]
    pub covariances: Array2<f64>,
    /// The same of its takes, which hold over seasons and blocks as well.
    pub takes: Vec<LevelOverBays>,
    /// Seasons, blocks or treatments that share a curve which lie in different shares over the levels that were given to bays, so that these are
    /// not compared here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uneven: Option<String>,
}

/// Of records of before, which do not say.
fn none_known() -> Array2<f64> {
    Array2::default((0, 0))
}

impl CurveBays {
    /// Do bays tell how well a level is known?
    pub(crate) fn judge_levels(&self) -> bool {
        self.df > 0.0
    }
}
