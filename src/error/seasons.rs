//! Seasons that cannot be pooled as given.

use super::shown;

/// What can be wrong with seasons to be pooled.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SeasonsError {
    /// Trials without a question.
    #[error(
        "trials do not say what is compared; give the treatment and two of its levels behind them, for example \"strength\", 2500, 5000"
    )]
    NotSaid,
    /// Fewer than two seasons that can enter.
    #[error(
        "{}; seasons are pooled from two on, so add another or ask this one alone",
        fewer(*.entering, .left_out)
    )]
    TooFew {
        /// Seasons that can enter.
        entering: usize,
        /// Those that cannot, each with the reason.
        left_out: Vec<String>,
    },
    /// One name for two seasons.
    #[error("two seasons are called {:?}; give each a name of its own with seasons=", shown::name(.season))]
    NameTwice {
        /// The name.
        season: String,
    },
    /// The same counts twice.
    #[error(
        "seasons {:?} and {:?} hold the very same counts, which would count them twice; give each trial once, and load each season of one table by itself",
        shown::name(.first),
        shown::name(.second)
    )]
    SameData {
        /// The first season that holds them.
        first: String,
        /// The second.
        second: String,
    },
    /// A season that was asked something else.
    #[error(
        "season {:?} has {what} {:?}, where {:?} is wanted as in the others; ask every season the same, or leave it out",
        shown::name(.season),
        shown::name(.found),
        shown::name(.wanted)
    )]
    Unlike {
        /// The season.
        season: String,
        /// What is unlike: "treatment", "levels" or "outcome".
        what: &'static str,
        /// That of this season.
        found: String,
        /// That of the others.
        wanted: String,
    },
    /// A trial that cannot be asked.
    #[error("season {:?}: {why}", shown::name(.season))]
    NotAsked {
        /// The season.
        season: String,
        /// What its trial said.
        why: String,
    },
    /// Draws that say too little, or take too long.
    #[error(
        "draws={draws} is not between 1000 and 200000; 10000 tell limits of a new season to about half a tree per 100"
    )]
    Draws {
        /// Draws given.
        draws: u64,
    },
}

/// How many seasons can enter, and why the others cannot.
fn fewer(entering: usize, left_out: &[String]) -> String {
    let start = match entering {
        0 => "no season can enter".to_owned(),
        1 => "only one season can enter".to_owned(),
        more => format!("only {more} seasons can enter"),
    };
    if left_out.is_empty() { start } else { shown::sentence(format!("{start} ({})", left_out.join("; "))) }
}
