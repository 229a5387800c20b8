//! Numeric routines outside their range.

/// A numeric routine that could not give an answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NumericError {
    /// A root search without a sign change.
    #[error("no sign change between {low} and {high}; the equation has no root there")]
    NoSignChange {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Too many iterations.
    #[error("{routine} did not settle within {iterations} iterations")]
    NotConverged {
        /// Routine name.
        routine: &'static str,
        /// Iterations used.
        iterations: usize,
    },
}
