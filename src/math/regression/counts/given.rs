//! What is to be fitted: patterns of the design with how often each count was met.

use super::law::{CountLaw, Zeros};

/// Counts below this are told apart by their place.
const SMALL: usize = 256;

/// A pattern of the design.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CountPattern {
    /// Its row in the count part, `ln mu = row . coefficients`.
    pub count: Vec<f64>,
    /// Its row in the zero part, a logit; empty where there is none.
    pub zero: Vec<f64>,
    /// What is known of `ln mu`: the logarithm of how much was looked at.
    pub offset: f64,
}

/// How often a count was met in a pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountCell {
    /// The pattern.
    pub pattern: usize,
    /// The count.
    pub count: u64,
    /// How often.
    pub times: f64,
}

/// What is to be fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct CountRegression {
    /// The law of counts.
    pub law: CountLaw,
    /// What becomes of zeros.
    pub zeros: Zeros,
    /// Patterns of the design.
    pub patterns: Vec<CountPattern>,
    /// Counts met.
    pub cells: Vec<CountCell>,
}

impl CountRegression {
    /// Counts in rising order, each with how often it was met.
    pub(super) fn tally(&self) -> Vec<(u64, f64)> {
        let mut cells: Vec<(u64, f64)> = Vec::new();
        let mut small = vec![0.0; SMALL];
        for cell in &self.cells {
            match small.get_mut(cell.count as usize) {
                Some(slot) => *slot += cell.times,
                None => cells.push((cell.count, cell.times)),
            }
        }
        cells.sort_unstable_by_key(|one| one.0);
        cells.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            kept.1 += if same { next.1 } else { 0.0 };
            same
        });
        let small = (0..).zip(small).filter(|one| one.1 > 0.0);
        small.chain(cells).collect()
    }
}
