//! The correlation within trays as a beta-binomial fit tells it, and how it was found.

/// How a rho was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RhoStatus {
    /// Between 0 and 1.
    Estimated,
    /// At 0: the trays differ no more than chance makes them, or less (see [`Rho::score`]).
    AtZero,
    /// At 1: every tray rooted wholly or not at all.
    AtOne,
    /// No tray has two cuttings.
    NotEstimable,
}

/// The intraclass correlation `rho = 1 / (1 + a + b)` of one set of trays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rho {
    /// Estimate, between 0 and 1.
    pub value: f64,
    /// From the observed information; none at a bound.
    pub se: Option<f64>,
    /// How it was found.
    pub status: RhoStatus,
    /// Standard normal score statistic of rho at the binomial fit; far below 0 the trays are more alike than chance allows
    /// (underdispersion, which this model cannot follow: it then equals the binomial model).
    pub score: f64,
}
