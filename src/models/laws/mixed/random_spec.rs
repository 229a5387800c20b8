//! What is asked of random intercepts, and how each of their standard deviations was found.

use super::rows::Rows;

/// How the random effects are to be integrated out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// Quadrature where it is feasible, Laplace otherwise.
    #[default]
    Auto,
    /// Laplace's approximation: any number of groupings, nested or crossed.
    Laplace,
    /// Adaptive Gauss-Hermite quadrature: one grouping, or two nested ones whose finer levels (trays) hold one design row each.
    Quadrature,
}

/// What to fit.
#[derive(Debug, Clone, Copy)]
pub struct RandomInterceptSpec<'a> {
    /// Rows. `copies` count whole groups of the outermost grouping and are refused by Laplace's approximation.
    pub rows: Rows<'a>,
    /// One or more groupings: the level of each row. A level of a nested grouping has its own code in the whole data.
    pub groupings: &'a [&'a [usize]],
    /// Method.
    pub method: Method,
    /// Add Jeffreys' penalty `0.5 ln |X' W X|` of the binomial information, for separated data.
    pub penalised: bool,
}

/// How a standard deviation was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeviationStatus {
    /// Above 0.
    Estimated,
    /// At 0: the groups differ no more than chance makes them.
    AtZero,
    /// Set to 0, because the data cannot tell: no group has two cuttings outside separated cells.
    NotEstimable,
}
