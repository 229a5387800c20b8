//! Counts of units alike in all variables, as one row each.

use super::values::{Numbers, ValueTable};

/// Counts with the values of every variable: units alike in all variables are one row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Data {
    /// Cuttings rooted.
    pub rooted: Numbers,
    /// Cuttings stuck.
    pub stuck: Numbers,
    /// Units (trays or pooled counts).
    pub units: Vec<u64>,
    /// Fixed part of the linear predictor; empty without an offset.
    pub offset: Numbers,
    /// Prior weights; empty without.
    pub weights: Numbers,
    /// Values of the variables.
    pub values: ValueTable,
}

/// Rows, and the row of each unit.
#[derive(Debug, Clone)]
pub(crate) struct Joined {
    pub(crate) row: Vec<usize>,
    pub(crate) data: Data,
}
