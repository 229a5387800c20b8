//! A surface over strength and darkness: its best strengths, their shift, its top.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::input::SurfaceInput;
use crate::curves::find::StrengthLimits;
use crate::estimate::TestResult;

/// The best strength at one darkness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BestAt {
    /// Days of darkness.
    pub darkness: f64,
    /// Best strength within the tested range.
    pub strength: StrengthLimits,
    /// True when both limits lie inside the tested range.
    pub located: bool,
    /// The take there with limits.
    pub take: [f64; 3],
}

/// The top of the surface over strength and darkness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SurfaceTop {
    /// Strength, drawn to the tested range.
    pub strength: f64,
    /// Days of darkness, drawn to the tested range.
    pub darkness: f64,
    /// The take there.
    pub take: f64,
    /// Places that are not ruled out as the top, on the grid of [`SurfaceGrid`]: row of darkness, place of strength.
    pub region: Vec<(usize, usize)>,
    /// True when the region lies inside the tested range.
    pub located: bool,
}

/// The fitted take on a grid of the tested range.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SurfaceGrid {
    /// Strengths.
    pub strength: Vec<f64>,
    /// Days of darkness.
    pub darkness: Vec<f64>,
    /// Take: one row per darkness.
    #[serde(with = "crate::math::dense::rows")]
    #[cfg_attr(test, schemars(with = "Vec<Vec<f64>>"))]
    pub take: Array2<f64>,
}

/// A surface over strength and darkness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ResponseSurface {
    /// What was asked.
    pub input: SurfaceInput,
    /// `d0` of `ln(1 + d / d0)`, the likeliest of those tried.
    pub shift: f64,
    /// The best strength at each tested darkness.
    pub best: Vec<BestAt>,
    /// "one best strength at every darkness" (parallel curves), "darkness", "lack of fit".
    pub tests: Vec<TestResult>,
    /// By what factor `d + d0` of the best strength changes from the shortest to the longest darkness; none where curves open upward.
    pub shift_factor: Option<f64>,
    /// The top over both; none where darkness has two levels or the surface has no top.
    pub top: Option<SurfaceTop>,
    /// Why nothing is claimed about darkness; none where it can be.
    pub withheld: Option<String>,
    /// The surface to draw.
    pub grid: SurfaceGrid,
    /// Degrees of freedom of the spread between trays.
    pub df: Option<f64>,
    /// Degrees of freedom between rooms of one darkness.
    pub df_bays: Option<f64>,
    /// Trays.
    pub n_units: u64,
    /// Cuttings.
    pub n_cuttings: u64,
    /// True where a search did not settle.
    pub unsettled: bool,
}
