//! The words of an outcome, in one place: every sentence, note, table, method and figure that speaks of what was counted takes them here.

use serde::Serialize;

use super::outcomes::Outcome;
use crate::answer::MadeWith;

/// What is counted, in every form a text needs. The fields are named by what they are for the take, so that a text reads the same
/// whichever outcome it is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct OutcomeWords {
    /// Its name: "take".
    pub name: &'static str,
    /// Its name at the head of a line: "Take".
    pub title: &'static str,
    /// One rate: "take rate".
    pub rate: &'static str,
    /// Several: "take rates".
    pub rates: &'static str,
    /// Several, short: "takes".
    pub takes: &'static str,
    /// "the take".
    pub the_take: &'static str,
    /// "rooting".
    pub rooting: &'static str,
    /// What a cutting did that counts: "rooted".
    pub rooted: &'static str,
    /// What cuttings do: "root".
    pub root: &'static str,
    /// What it is counted of: "cutting".
    pub cutting: &'static str,
    /// "cuttings".
    pub cuttings: &'static str,
    /// Behind a number of a hundred: "28 trees per 100".
    pub per_hundred: &'static str,
    /// Behind a number of many: "38 of 100 rooted".
    pub counted: &'static str,
    /// Both that can happen: "rooted or not".
    pub either: &'static str,
    /// The two sides of its odds: "rooted against not rooted".
    pub odds: &'static str,
    /// A count over another, in full: "cuttings rooted over cuttings stuck".
    pub ratio: &'static str,
    /// The axis of single counts: "rooted of stuck".
    pub of_stuck: &'static str,
    /// Head of a column of what is counted: "rooted".
    pub counted_head: &'static str,
    /// Head of a column of what it is counted of: "stuck".
    pub stuck_head: &'static str,
}

const TAKE: OutcomeWords = OutcomeWords {
    name: "take",
    title: "Take",
    rate: "take rate",
    rates: "take rates",
    takes: "takes",
    the_take: "the take",
    rooting: "rooting",
    rooted: "rooted",
    root: "root",
    cutting: "cutting",
    cuttings: "cuttings",
    per_hundred: "trees per 100",
    counted: "rooted",
    either: "rooted or not",
    odds: "rooted against not rooted",
    ratio: "cuttings rooted over cuttings stuck",
    of_stuck: "rooted of stuck",
    counted_head: "rooted",
    stuck_head: "stuck",
};

const SURVIVAL: OutcomeWords = OutcomeWords {
    name: "survival",
    title: "Survival",
    rate: "survival rate",
    rates: "survival rates",
    takes: "survival rates",
    the_take: "survival",
    rooting: "survival",
    rooted: "survived",
    root: "survive",
    cutting: "cutting",
    cuttings: "cuttings",
    per_hundred: "survivors per 100",
    counted: "survived",
    either: "alive or dead",
    odds: "alive against dead",
    ratio: "cuttings alive over cuttings stuck",
    of_stuck: "alive of stuck",
    counted_head: "alive",
    stuck_head: "stuck",
};

const ROOTED_OF_SURVIVORS: OutcomeWords = OutcomeWords {
    name: "rooted of survivors",
    title: "Rooted of survivors",
    rate: "rate of rooting among survivors",
    rates: "rates of rooting among survivors",
    takes: "rates of rooting among survivors",
    the_take: "rooting among survivors",
    rooting: "rooting among survivors",
    rooted: "rooted",
    root: "root",
    cutting: "survivor",
    cuttings: "survivors",
    per_hundred: "rooted per 100 survivors",
    counted: "survivors rooted",
    either: "rooted or not",
    odds: "rooted against not rooted among survivors",
    ratio: "cuttings rooted over cuttings alive",
    of_stuck: "rooted of survivors",
    counted_head: "rooted",
    stuck_head: "survivors",
};

/// "the grade or better" gives way to its name where it is known ([`Reached`](super::Reached)).
const GRADE_REACHED: OutcomeWords = OutcomeWords {
    name: "share at the grade or better",
    title: "Share at the grade or better",
    rate: "share at the grade or better",
    rates: "shares at the grade or better",
    takes: "shares at the grade or better",
    the_take: "the share at the grade or better",
    rooting: "reaching the grade or better",
    rooted: "reached the grade or better",
    root: "reach the grade or better",
    cutting: "cutting",
    cuttings: "cuttings",
    per_hundred: "cuttings of the grade or better per 100",
    counted: "reached the grade or better",
    either: "at the grade or better, or below",
    odds: "at the grade or better against below",
    ratio: "cuttings at the grade or better over cuttings graded",
    of_stuck: "cuttings at the grade or better",
    counted_head: "at the grade or better",
    stuck_head: "graded",
};

impl Outcome {
    /// Its words.
    ///
    /// ```
    /// use rootling::trial::Outcome;
    /// let words = Outcome::Survival.words();
    /// assert_eq!((words.rates, words.rooted, words.per_hundred), ("survival rates", "survived", "survivors per 100"));
    /// ```
    #[must_use]
    pub const fn words(self) -> &'static OutcomeWords {
        match self {
            Self::Take => &TAKE,
            Self::Survival => &SURVIVAL,
            Self::RootedOfSurvivors => &ROOTED_OF_SURVIVORS,
            Self::GradeReached => &GRADE_REACHED,
        }
    }

    /// "take", "survival", "rooted of survivors".
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(Outcome::Survival.noun(), "survival");
    /// ```
    #[must_use]
    pub const fn noun(self) -> &'static str {
        self.words().name
    }

    /// What a hundredth of it is: "3 more trees per 100".
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(Outcome::Take.of_hundred(), "trees per 100");
    /// ```
    #[must_use]
    pub const fn of_hundred(self) -> &'static str {
        self.words().per_hundred
    }

    /// What was counted, behind a number: "38 of 100 rooted".
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(!Outcome::Take.counted().is_empty());
    /// ```
    #[must_use]
    pub const fn counted(self) -> &'static str {
        self.words().counted
    }

    /// True where it is one side of the take only, so that what is best in it need not be what to use.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(Outcome::Survival.is_part() && !Outcome::Take.is_part());
    /// ```
    #[must_use]
    pub fn is_part(self) -> bool {
        matches!(self, Self::Survival | Self::RootedOfSurvivors)
    }
}

impl MadeWith {
    /// The record with the outcome that was counted, where it is not the take.
    #[must_use]
    pub fn about(mut self, outcome: Outcome) -> Self {
        if outcome != Outcome::Take {
            self.options.push(("outcome".to_owned(), outcome.name().to_owned()));
        }
        self
    }
}
