//! What is known after a look through the weeks.

use serde::{Deserialize, Serialize};

/// Whether a drop came at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// From one week to the next.
    Step,
    /// Little by little.
    Drift,
    /// The counts do not tell.
    Open,
}

/// Whether a change goes with the week of setting or with that of reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum GoesWith {
    /// Batches set from a week on have it.
    Setting,
    /// Batches read from a week on have it.
    Reading,
    /// The counts do not tell.
    Open,
}

/// One level against the others, from the likely week on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PlaceChange {
    /// The grouping.
    pub grouping: String,
    /// The level.
    pub level: String,
    /// Batches.
    pub n_batches: u64,
    /// Its change against expectation, as a difference of rates.
    pub change: f64,
    /// Its change less that of the others.
    pub beside_others: f64,
    /// P value of that by the law of the largest of its grouping; where it stands out, by that of the largest of all.
    pub p: f64,
    /// True where it stands below the others by the law of the largest of all columns, the levels named before it allowed for.
    #[serde(default)]
    pub stands_out: bool,
    /// Levels of other columns that would explain it as well: grouping and level.
    #[serde(default)]
    pub not_apart_from: Vec<(String, String)>,
}

impl PlaceChange {
    /// Whether the drop is most of all here: in trees per 100 the others lost less than half as much. A drop of as many trees everywhere is a
    /// larger one of the odds where more survive.
    pub(crate) fn carries(&self) -> bool {
        self.change < 0.0 && self.change - self.beside_others > 0.5 * self.change
    }
}

/// One step of the chain, in the batches that have the drop.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StepChange {
    /// The step.
    pub step: String,
    /// Batches counted at it.
    pub n_batches: u64,
    /// Its rate less what was expected.
    pub change: f64,
    /// Standard errors below expectation.
    pub z: f64,
    /// P value of a drop, for all steps together.
    pub p: f64,
}

/// When, where and how much.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Change {
    /// P value of the whole search over weeks and places.
    pub p: f64,
    /// Number, among the signals looked at, of the first that came after the likely week.
    pub signal: Option<u64>,
    /// Draws behind it.
    pub draws: u64,
    /// Where the drop shows best: grouping and level; None for all batches.
    pub place: Option<(String, String)>,
    /// Monday of the likeliest week.
    pub monday: i32,
    /// Mondays of the first and the last week that cannot be ruled out, those before the first in which only other places were set among them.
    pub weeks: (i32, i32),
    /// True where the first week that was looked through is one of them.
    pub from_the_start: bool,
    /// How many weeks cannot be ruled out.
    pub n_weeks: u64,
    /// Confidence of that set.
    pub confidence: f64,
    /// Fall of twice the log-likelihood up to which a week is kept, where a change has the likely size; weeks at which it would be smaller are
    /// each held to the fall in crops that change there.
    pub cut_off: f64,
    /// The change since then, as a difference of rates: below 0 where fewer survive.
    pub size: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// True where its size is that of batches read after the signal, false where it was shrunk.
    pub size_from_later_batches: bool,
    /// P value of the crop as one season among others, where seasons are few and the first week looked through may be the first that has it:
    /// how rarely a season lies as low beside those of the baseline. None where that is not asked, or how seasons differ is not known.
    #[serde(default)]
    pub season_p: Option<f64>,
    /// True where a season that is worse as a whole would look the same, and nothing is known of how seasons differ.
    #[serde(default)]
    pub season_open: bool,
    /// At once or little by little.
    pub form: Form,
    /// Setting or reading.
    pub goes_with: GoesWith,
    /// The levels of each grouping.
    pub places: Vec<PlaceChange>,
    /// The steps of the chain, where they were counted.
    pub steps: Vec<StepChange>,
}
