//! A trial that is to be: levels with the takes that are expected of them, trays, blocks, bays, and how trays differ.

use serde::{Deserialize, Serialize};

use crate::choice::choice;
use crate::error::{PlanError, Result};

/// By which law trays of one level differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TrayLaw {
    /// Probabilities of trays are beta around the take.
    #[default]
    BetaBinomial,
    /// Their log odds are normal, with the mean and variance of the other law.
    LogitNormal,
}

choice!(
    TrayLaw, "law of the trays":
    BetaBinomial = "beta-binomial",
    LogitNormal = "logit-normal",
);

/// A trial to be drawn: every level has the same number of trays.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PlannedTrial {
    /// Take expected of each level, 0 to 1, over all trays that there might be.
    pub takes: Vec<f64>,
    /// Levels of a second treatment that is crossed with the first, for `effect` and `interaction`; 0 without. Takes then stand
    /// level by level of the first, those of the second running faster.
    pub columns: u64,
    /// Trays of each level; with bays, trays of each bay.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// Correlation of two cuttings of one tray, at least 0 and below 1.
    pub correlation: f64,
    /// By which law trays differ.
    pub law: TrayLaw,
    /// Trays of each level in a block; 0 without blocks.
    pub block_trays: u64,
    /// Standard deviation of block effects on the log odds.
    pub block_sd: f64,
    /// Bays of each level where the level is given to whole bays, as darkness is; 0 without.
    pub bays: u64,
    /// Standard deviation of bay effects on the log odds.
    pub bay_sd: f64,
    /// Chance that a tray is lost, whatever its level.
    pub lost: f64,
}

impl Default for PlannedTrial {
    fn default() -> Self {
        Self {
            takes: vec![0.5, 0.5],
            columns: 0,
            trays: 8,
            cuttings: 20,
            correlation: 0.05,
            law: TrayLaw::BetaBinomial,
            block_trays: 0,
            block_sd: 0.5,
            bays: 0,
            bay_sd: 0.3,
            lost: 0.0,
        }
    }
}

/// Most trays of a level, and most cuttings of a tray, that are planned with.
pub(super) const MOST_TRAYS: u64 = 2_000;
pub(super) const MOST_CUTTINGS: u64 = 10_000;

impl PlannedTrial {
    /// The same with other trays and cuttings.
    #[must_use]
    pub(super) fn sized(&self, trays: u64, cuttings: u64) -> Self {
        Self { trays, cuttings, ..self.clone() }
    }

    /// The same with another correlation.
    #[must_use]
    pub(super) fn alike(&self, correlation: f64) -> Self {
        Self { correlation, ..self.clone() }
    }

    /// Trays of each level, over all its bays.
    pub(super) fn trays_per_level(&self) -> u64 {
        self.trays * self.bays.max(1)
    }

    /// # Errors
    /// [`PlanError`] for the first thing that cannot be.
    pub(super) fn check(&self) -> Result<()> {
        for take in &self.takes {
            if !(0.0..=1.0).contains(take) {
                return Err(PlanError::Take { value: *take }.into());
            }
        }
        if !(0.0..1.0).contains(&self.correlation) {
            return Err(PlanError::Correlation { value: self.correlation }.into());
        }
        let counts = [("trays", self.trays, 1, MOST_TRAYS), ("cuttings", self.cuttings, 1, MOST_CUTTINGS)];
        for (name, value, low, high) in counts {
            if !(low..=high).contains(&value) {
                return Err(PlanError::Count { name, value, low, high }.into());
            }
        }
        for (name, value, high) in [("block_spread", self.block_sd, 5.0), ("bay_spread", self.bay_sd, 5.0)] {
            if !(0.0..=high).contains(&value) {
                return Err(PlanError::Spread { name, value, high }.into());
            }
        }
        if !(0.0..=0.9).contains(&self.lost) {
            return Err(PlanError::Lost { value: self.lost }.into());
        }
        if self.bays == 1 {
            return Err(PlanError::OneBay.into());
        }
        if self.bays > 0 && self.block_trays > 0 {
            return Err(PlanError::BaysAndBlocks.into());
        }
        Ok(())
    }
}
