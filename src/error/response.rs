//! A response that a trial cannot be asked about.

use super::shown;

/// What can be wrong with a question about a response.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ResponseError {
    /// A column that is no response of the trial.
    #[error("no response is called {:?}; {}", shown::name(.name), declared(.known))]
    NotDeclared {
        /// The name given.
        name: String,
        /// Those that were declared.
        known: Vec<String>,
    },
    /// Grades where a mean is asked for.
    #[error("{:?} holds grades, which have an order and no mean; ask for a mean of a count, a length or a mass", shown::name(.name))]
    GradesHaveNoMean {
        /// The response.
        name: String,
    },
    /// A trial whose trays nobody recorded.
    #[error(
        "no trays were recorded, so nothing tells how {:?} differs between trays; name their column with tray= when loading",
        shown::name(.name)
    )]
    NoTrays {
        /// The response.
        name: String,
    },
    /// More combinations of levels than a model of means takes.
    #[error(
        "{found} combinations of levels are too many for a model of means, which takes {most}; leave out a treatment, or hold it at a level by filtering the table"
    )]
    ManyCombinations {
        /// Combinations.
        found: usize,
        /// The most.
        most: usize,
    },
    /// A response without an entry.
    #[error(
        "{}, so {:?} has no mean; compare the takes",
        if *.rooted { "no rooted cutting was measured" } else { "no cutting rooted" },
        shown::name(.name)
    )]
    NothingMeasured {
        /// The response.
        name: String,
        /// True where cuttings rooted.
        rooted: bool,
    },
}

/// What can be asked about, or how a response is declared.
fn declared(known: &[String]) -> String {
    if known.is_empty() {
        return "this trial was loaded without responses, so declare its column with responses= when loading"
            .to_owned();
    }
    format!("those declared are {}", shown::names(known))
}
