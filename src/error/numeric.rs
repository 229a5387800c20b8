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
    /// Two arguments that must have the same length.
    #[error("{given} {what} were given for {expected} statistics; give one for each")]
    Lengths {
        /// What was counted.
        what: &'static str,
        /// Number needed.
        expected: usize,
        /// Number given.
        given: usize,
    },
    /// A matrix that is not a covariance matrix.
    #[error("row {} does not belong to a covariance matrix; give a symmetric one without negative variances", .row + 1)]
    NotCovariance {
        /// Its position, from 0; the message counts from 1.
        row: usize,
    },
    /// A parameter that a distribution cannot have.
    #[error("{name} {value} cannot be that of {distribution}; give {wanted}")]
    Parameter {
        /// The distribution, with its article.
        distribution: &'static str,
        /// The parameter.
        name: &'static str,
        /// The value.
        value: f64,
        /// What would do.
        wanted: &'static str,
    },
    /// Degrees of freedom out of range.
    #[error("{df} degrees of freedom; give a number from 1 upward, or infinity for the normal distribution")]
    DegreesOfFreedom {
        /// The value.
        df: f64,
    },
    /// A missing number where one is needed.
    #[error("the {what} hold a value that is not a number; correct it")]
    NotANumber {
        /// Which argument.
        what: &'static str,
    },
    /// A contrast without variance.
    #[error("contrast {} has no variance, so it cannot be tested; leave it out or use a penalised fit", .row + 1)]
    NoVariance {
        /// Its position, from 0; the message counts from 1.
        row: usize,
    },
    /// A method that has no one-sided form.
    #[error(
        "the {method} method has no one-sided form; ask for a difference either way, or use the joint distribution"
    )]
    TwoSidedOnly {
        /// The method.
        method: &'static str,
    },
    /// Correlations that are not those of comparisons with one control.
    #[error("these contrasts do not have the correlations of comparisons with one control; use the joint distribution")]
    NotManyToOne,
    /// Pairwise differences of fewer than two means.
    #[error("{groups} means have no differences; give the number of means compared, at least 2")]
    TooFewGroups {
        /// Number of means given.
        groups: usize,
    },
}
