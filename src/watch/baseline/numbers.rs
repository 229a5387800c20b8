//! A baseline as it is kept: what is expected of each level, and how batches and weeks differ.

use serde::{Deserialize, Serialize};

use super::design::Columns;
use crate::watch::crop::Grouping;
use crate::watch::law::Spreads;

/// What a crop is expected to do, frozen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Baseline {
    /// Groupings with the levels it was told of.
    pub groupings: Vec<Grouping>,
    pub(super) columns: Columns,
    /// The mean of each column over the plants started.
    pub(super) shares: Vec<f64>,
    /// Coefficients on the logit scale.
    pub coefficients: Vec<f64>,
    /// Their covariance.
    pub covariance: Vec<Vec<f64>>,
    /// How batches and weeks differ.
    pub spreads: Spreads,
    /// Standard deviation of the logit between seasons; None with fewer than three.
    pub season_spread: Option<f64>,
    /// Variance of the logit that a season has by its batches and weeks alone; None with fewer than three.
    #[serde(default)]
    pub season_within: Option<f64>,
    /// First and last day of reading that it was made from.
    pub days: (i32, i32),
    /// Batches in it.
    pub n_batches: u64,
    /// Weeks in it.
    pub n_weeks: u64,
    /// Set weeks of places in it.
    pub n_clusters: u64,
    /// Seasons in it.
    pub n_seasons: u64,
    /// Plants started and alive.
    pub counts: (u64, u64),
    /// Levels that could not be told apart from those named before them.
    pub inseparable: Vec<(String, String)>,
    /// Fingerprint of its batches.
    pub fingerprint: String,
    /// True when the fit settled.
    pub converged: bool,
    /// Days after setting at which its batches were judged.
    #[serde(default)]
    pub reading_age: Option<i32>,
    /// The least correlation within batches that was looked at; above 0 only where set weeks of a place hold thousands of plants.
    #[serde(default)]
    pub least_correlation: f64,
    /// What was striking within it when it was made: where and since when fewer survived.
    #[serde(default)]
    pub striking: Option<String>,
    /// Baselines of the steps of the chain, by name.
    #[serde(default)]
    pub steps: Vec<(String, Baseline)>,
}

/// What is expected of a level.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelRate {
    /// The column.
    pub grouping: String,
    /// The level.
    pub level: String,
    /// Expected rate.
    pub value: f64,
    /// Lower 95 % limit.
    pub low: f64,
    /// Upper 95 % limit.
    pub high: f64,
}
