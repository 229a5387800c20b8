//! What a choice in money is asked with: plain data.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// What is asked of a trial. Money is that of the user throughout.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ChooseOptions {
    /// Price of a saleable tree.
    pub price: f64,
    /// Cuttings stuck in a season.
    pub cuttings_a_season: f64,
    /// Cost of a cutting, whatever its level.
    pub per_cutting: Option<f64>,
    /// Cost of a tray.
    pub per_tray: Option<f64>,
    /// Cost of a tray's day of darkness.
    pub per_day: Option<f64>,
    /// Further cost of a cutting at some levels.
    pub of_level: BTreeMap<String, f64>,
    /// Days of darkness, where the treatment itself does not say them.
    pub days: Option<Days>,
    /// Cuttings in a tray; those of the trial's trays where not given.
    pub cuttings_per_tray: Option<f64>,
    /// Share of rooted cuttings that come to sale.
    pub saleable: f64,
    /// Limits of that share, at the confidence of all limits.
    pub saleable_limits: Option<(f64, f64)>,
    /// Seasons that the choice is to hold.
    pub seasons: u64,
    /// How far the log odds of a level move from season to season beside what all levels share, a standard deviation.
    pub season_sd: Option<f64>,
    /// The same from seasons pooled.
    pub pooled: Option<SeasonsPooled>,
    /// The trial that may come next.
    pub next_trial: Option<TrialToCome>,
    /// Levels of other columns to stay within.
    pub at: BTreeMap<String, String>,
    /// The name of the money, as it is to be said.
    pub money: Option<String>,
    /// Confidence of all limits.
    pub confidence: f64,
    /// Draws of what is not known.
    pub draws: u64,
    /// Their seed.
    pub seed: u64,
}

impl Default for ChooseOptions {
    fn default() -> Self {
        Self {
            price: f64::NAN,
            cuttings_a_season: f64::NAN,
            per_cutting: None,
            per_tray: None,
            per_day: None,
            of_level: BTreeMap::new(),
            days: None,
            cuttings_per_tray: None,
            saleable: 1.0,
            saleable_limits: None,
            seasons: 1,
            season_sd: None,
            pooled: None,
            next_trial: None,
            at: BTreeMap::new(),
            money: None,
            confidence: 0.95,
            draws: 10_000,
            seed: 1,
        }
    }
}

impl ChooseOptions {
    /// A price of each saleable tree, so many cuttings a season, and what each costs.
    ///
    /// ```
    /// use rootling::decide::ChooseOptions;
    /// assert_eq!(ChooseOptions::of(3.0, 20_000.0, 0.4).per_cutting, Some(0.4));
    /// ```
    #[must_use]
    pub fn of(price: f64, cuttings_a_season: f64, per_cutting: f64) -> Self {
        Self { price, cuttings_a_season, per_cutting: Some(per_cutting), ..Self::default() }
    }
}

/// Days of darkness.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Days {
    /// The same at every level.
    Alike(f64),
    /// By level.
    ByLevel(BTreeMap<String, f64>),
}

/// What seasons pooled told of how differences move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeasonsPooled {
    /// The treatment.
    pub treatment: String,
    /// First level of the difference.
    pub first: String,
    /// Second level.
    pub second: String,
    /// Seasons behind it.
    pub n_seasons: u64,
    /// Standard deviation of true differences between seasons, a proportion; none with two seasons.
    pub spread: Option<f64>,
}

/// A trial that may come next.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrialToCome {
    /// Trays of each level.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// What it costs.
    pub cost: f64,
}
