//! Counts of the units that enter a model.

use crate::trial::Numbers;

/// Counts of the units in which cuttings were set and whose weight is above 0.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PerUnit {
    /// Cuttings rooted.
    pub rooted: Numbers,
    /// Cuttings stuck.
    pub stuck: Numbers,
    /// Offset; empty without.
    pub offset: Numbers,
    /// Prior weights; empty without.
    pub weights: Numbers,
    /// The row of [`Data`](crate::trial::Data) each unit belongs to.
    pub row: Vec<usize>,
}
