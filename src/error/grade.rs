//! Grades that cannot be asked as they were.

use super::shown;

/// What can be wrong with a question about grades.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GradeError {
    /// A response that has no grades.
    #[error(
        "{:?} holds no grades; declare it with rl.responses.grade(lowest, highest) when loading, or ask a response that does",
        shown::name(.response)
    )]
    NotGrades {
        /// Its column.
        response: String,
    },
    /// A grade that everybody reaches, or nobody can.
    #[error(
        "at_least={at_least} divides no grades of the scale {lowest} to {highest}; give a grade from {} to {highest}",
        .lowest + 1
    )]
    OutOfScale {
        /// The grade asked for.
        at_least: i64,
        /// The lowest of the scale.
        lowest: i64,
        /// The highest.
        highest: i64,
    },
    /// Not one cutting was graded.
    #[error("{:?} holds no grade of any cutting; enter grades, or ask for the take", shown::name(.response))]
    NothingGraded {
        /// Its column.
        response: String,
    },
    /// Grades of rooted cuttings that cannot be told from those of others.
    #[error(
        "in {unit} {graded} cuttings hold a grade, {rooted} rooted, and too few of them hold the lowest: which grades are of rooted cuttings is not known; ask with grades_of=\"stuck\""
    )]
    RootedUnknown {
        /// The tray, or what else is a unit.
        unit: String,
        /// Cuttings with a grade.
        graded: u64,
        /// Cuttings that rooted.
        rooted: u64,
    },
    /// A treatment of one level.
    #[error("{:?} has one level with graded cuttings, so there is nothing to set it against; ask for another treatment", shown::name(.treatment))]
    OneLevel {
        /// The treatment.
        treatment: String,
    },
}
