//! What a choice in money holds: plain data.

use serde::{Deserialize, Serialize};

use crate::math::distributions::normal;

use crate::choice::choice;

/// What each level of a treatment brings in money, and which to choose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelChoice {
    /// The treatment.
    pub factor: String,
    /// Its levels, in the order of the trial.
    pub levels: Vec<LevelGain>,
    /// The level that is expected to bring most.
    pub best: String,
    /// The one that is expected to bring most of the others.
    pub runner_up: String,
    /// What the best brings more than that in a season, expected.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Chance that the best brings most of all levels.
    pub chance_best: f64,
    /// What it would be worth over all seasons to know the takes and the saleable share before choosing; no trial is worth more.
    pub perfect_knowledge: f64,
    /// The trial that may come next; none where none was described.
    pub next_trial: Option<NextTrialWorth>,
    /// Prices and costs at which the choice turns.
    pub break_even: Vec<BreakEven>,
    /// The choice at half and at double of what it rests on.
    pub sensitivity: Vec<ChoiceAt>,
    /// The two levels as they are compared, in takes; none where no difference is told.
    pub compared: Option<Compared>,
    /// Why their difference is withheld; none where it is not.
    pub withheld: Option<String>,
    /// Price of a saleable tree.
    pub price: f64,
    /// Share of rooted cuttings that come to sale.
    pub saleable: f64,
    /// Cuttings stuck in a season.
    pub cuttings_a_season: f64,
    /// Seasons that the choice is to hold.
    pub seasons: u64,
    /// Standard deviation of the log odds of a level over seasons, as used; none where seasons are taken to be like that of the trial.
    pub season_sd: Option<f64>,
    /// The name of the money.
    pub money: Option<String>,
    /// Correlation of cuttings within a tray beside what all levels share, as used for the next trial.
    pub correlation: f64,
    /// Degrees of freedom behind differences; none where cuttings are counted.
    pub df: Option<f64>,
    /// What one of the units is called, "cutting" where no trays are counted.
    pub unit: String,
    /// Confidence of all limits.
    pub confidence: f64,
    /// Draws behind all of it.
    pub draws: u64,
}

impl LevelChoice {
    /// The standard error that the draws leave the lead with: its spread over draws, as its limits show it, over the root of their number.
    pub(super) fn lead_error(&self) -> f64 {
        lead_error((self.low, self.high), self.confidence, self.draws)
    }
}

/// The standard error of a lead with these limits by so many draws.
pub(super) fn lead_error((low, high): (f64, f64), confidence: f64, draws: u64) -> f64 {
    let reach = 2.0 * normal::quantile(f64::midpoint(1.0, confidence));
    (high - low) / reach / (draws.max(1) as f64).sqrt()
}

/// What a level brings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelGain {
    /// The level.
    pub level: String,
    /// Rooted of stuck in the trial, 0 to 1.
    pub take: f64,
    /// The take to be expected of a season, 0 to 1.
    pub take_expected: f64,
    /// Cuttings rooted.
    pub rooted: u64,
    /// Cuttings stuck.
    pub stuck: u64,
    /// Units (trays).
    pub n_units: u64,
    /// Cost of a cutting at this level.
    pub cost: f64,
    /// Saleable trees to be expected of a season.
    pub trees: f64,
    /// Gain to be expected of a season: income less costs.
    pub value: f64,
    /// Lower limit of the mean gain of a season over the seasons that the choice holds.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
    /// Chance that no level brings more over these seasons; where several bring the same each has its part.
    pub chance_best: f64,
    /// What the best is expected to bring more in a season; 0 for the best.
    pub behind: f64,
    /// Its lower limit; none for the best itself.
    pub behind_low: Option<f64>,
    /// Its upper limit.
    pub behind_high: Option<f64>,
    /// What choosing this level is expected to lose over all seasons against choosing with perfect knowledge.
    pub loss: f64,
}

/// What the next trial is worth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextTrialWorth {
    /// Trays of each level.
    pub trays: u64,
    /// Cuttings of each tray.
    pub cuttings: u64,
    /// What it costs.
    pub cost: f64,
    /// Seasons in which its result can be used: all but the one in which it runs.
    pub seasons_left: u64,
    /// What it is worth over these, before its cost.
    pub value: f64,
    /// Standard error of that by the draws.
    pub value_error: f64,
    /// The same less its cost.
    pub net: f64,
    /// Chance that another level is chosen after it.
    pub chance_other: f64,
    /// True where it is worth more than it costs by more than twice the error of the draws.
    pub pays: bool,
}

/// What the choice turns on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnsOn {
    /// The price of a saleable tree.
    Price,
    /// The cost of a cutting at a level.
    Cost,
    /// How far seasons differ.
    SeasonSd,
}

choice!(
    TurnsOn, "what a choice turns on":
    Price = "price",
    Cost = "cost",
    SeasonSd = "season-sd",
);

/// A price or a cost at which the choice turns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BreakEven {
    /// The price, or the cost of a cutting.
    pub what: TurnsOn,
    /// The level whose cost it is; none for the price.
    pub level: Option<String>,
    /// Where it turns.
    pub at: f64,
    /// True where it turns above this, false where below.
    pub above: bool,
    /// The choice as it stands.
    pub chosen: String,
    /// The level that would be chosen in its place.
    pub instead: String,
}

/// The choice where something is another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChoiceAt {
    /// What is another: the price or the spread between seasons.
    pub what: TurnsOn,
    /// What it is then.
    pub at: f64,
    /// The choice then.
    pub best: String,
    /// What that brings more in a season than the next best.
    pub value: f64,
    /// True where it is another choice.
    pub changes: bool,
}

/// The best and its runner-up as they are compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Compared {
    /// Difference of takes, the best minus its runner-up, a proportion.
    pub value: f64,
    /// Its lower limit.
    pub low: f64,
    /// Its upper limit.
    pub high: f64,
}
