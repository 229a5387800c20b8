//! Choices in money that cannot be made as asked.

use super::shown;

/// What can be wrong with costs, prices, seasons and the trial that they are to be weighed by.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DecideError {
    /// A price or a number of things that is not above 0.
    #[error("{name}={value} is not a number above 0; give {what}")]
    NotAbove {
        /// The option.
        name: &'static str,
        /// The value given.
        value: f64,
        /// What it holds, with an example.
        what: &'static str,
    },
    /// A cost below 0.
    #[error("{name}={value} is no cost of 0 or more; give what it costs in the money of the price")]
    Cost {
        /// The option.
        name: String,
        /// The value given.
        value: f64,
    },
    /// No cost at all.
    #[error(
        "no cost is given, so money would say no more than takes do; give at least one of per_cutting, per_tray, per_day and of_level (0 is an answer, too)"
    )]
    NoCosts,
    /// A treatment of a single level.
    #[error("{:?} has the one level {:?} here, so there is nothing to choose; name a treatment of two levels or more", shown::name(.treatment), shown::name(.level))]
    OneLevel {
        /// The treatment.
        treatment: String,
        /// Its level.
        level: String,
    },
    /// Not one cutting rooted.
    #[error(
        "not one cutting rooted at any level of {:?}, so there is no take to weigh costs by; the cheapest level loses least until a trial shows a take",
        shown::name(.treatment)
    )]
    NothingRooted {
        /// The treatment.
        treatment: String,
    },
    /// A share of saleable trees that is none.
    #[error(
        "saleable={value} is no share above 0 and at most 1; give the share of rooted cuttings that come to sale, for example 0.8"
    )]
    Saleable {
        /// The value given.
        value: f64,
    },
    /// Limits of that share that do not hold it.
    #[error(
        "saleable_limits={low} and {high} do not lie within 0 and 1 around saleable={value}; give the lower and the upper limit of the share, for example 0.7 and 0.88"
    )]
    SaleableLimits {
        /// The lower limit given.
        low: f64,
        /// The upper limit given.
        high: f64,
        /// The share.
        value: f64,
    },
    /// Costs of trays whose size is not known.
    #[error(
        "{name} is a cost of trays, and the trial does not say how many cuttings one holds; give cuttings_per_tray"
    )]
    TraySize {
        /// The option.
        name: &'static str,
    },
    /// A cost of darkness without its days.
    #[error(
        "per_day is a cost of darkness, and it is not known how many days {:?} {:?} was dark; give days, one number or one for each level",
        shown::name(.treatment),
        shown::name(.level)
    )]
    Days {
        /// The treatment.
        treatment: String,
        /// The level.
        level: String,
    },
    /// Days that cost nothing.
    #[error(
        "days= is given and per_day= is not, so days of darkness would cost nothing; give per_day=, what a day of darkness costs for a tray, or leave days= out"
    )]
    DaysWithoutCost,
    /// Days that are none.
    #[error("days={value} is no number of days; give 0 or more")]
    NoDays {
        /// The value given.
        value: f64,
    },
    /// Seasons that are too few or too many.
    #[error("seasons={seasons} is not between 1 and 50; give the seasons that the choice is to hold")]
    Seasons {
        /// Seasons given.
        seasons: u64,
    },
    /// A spread between seasons that cannot be.
    #[error(
        "season_sd={value} is not between 0 and 3; it is the standard deviation of log odds over seasons, for example 0.3"
    )]
    SeasonSd {
        /// The value given.
        value: f64,
    },
    /// Two statements of the same.
    #[error("season_sd and pooled both say how seasons differ; give one of them")]
    TwoSpreads,
    /// Seasons pooled that are too few.
    #[error(
        "pooled holds {seasons} seasons, which do not tell how far seasons differ; pool three or more, or give season_sd"
    )]
    NoSpread {
        /// Seasons pooled.
        seasons: u64,
    },
    /// Seasons of another treatment.
    #[error("pooled is of {:?}, and the choice is of {:?}; pool trials of the same treatment", shown::name(.found), shown::name(.wanted))]
    OtherTreatment {
        /// That of the seasons.
        found: String,
        /// That of the choice.
        wanted: String,
    },
    /// A next trial that is none.
    #[error(
        "next_trial with {what} {value} is no trial; give trays of each level (1 to 1000), cuttings of each tray (1 to 10000) and what it costs (0 or more)"
    )]
    NextTrial {
        /// What is wrong: "trays", "cuttings" or "cost".
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// Draws that say too little, or take too long.
    #[error("draws={draws} is not between 1000 and 200000; 10000 tell chances to about half of 100")]
    Draws {
        /// Draws given.
        draws: u64,
    },
}
