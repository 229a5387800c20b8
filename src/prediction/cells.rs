//! The combinations of values that a new row stands for, and their mean rate.

use crate::effects::RateOf;
use crate::effects::averaging::{Averaged, Blend, Surface};
use crate::models::{Link, Ready};
use crate::trial::Value;

/// Combinations of values over which a rate is averaged, and the offset at which it is given; none for the mean offset.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cells {
    pub(super) values: Vec<Vec<Value>>,
    pub(super) offset: Option<f64>,
}

impl Cells {
    /// The mean rate with equal weights; none when a cell cannot be estimated.
    pub(super) fn rate(&self, ready: &Ready, link: Link, of: RateOf) -> Option<Averaged> {
        let share = 1.0 / self.values.len() as f64;
        let row = |cell: &Vec<Value>| Some((share, ready.design.row(cell)?));
        let rows: Option<Vec<(f64, Vec<f64>)>> = self.values.iter().map(row).collect();
        let parameters: Vec<f64> = ready.solution.coef.iter().chain(&ready.deviations).copied().collect();
        let surface = Surface::new(ready, link, of).at_offset(self.offset.unwrap_or(ready.offset));
        Some(surface.rate(&Blend::of(rows?.into_iter()), &parameters))
    }
}
