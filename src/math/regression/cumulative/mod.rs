//! Cumulative logits of ordered grades: `logit P(grade >= j) = cut_j + x b`, one slope for all cuts unless asked otherwise.
//!
//! `rows` (counts of grades by rows of a design, alike rows summed), `point` (what one row gives at its predictors), `sums` (likelihood, slopes and
//! information of all rows), `many` (the same of very many rows), `fit` (the top, with or without cuttings added), `score` (tests and limits that need no estimate of what they test),
//! `odds` (whether one slope serves all cuts).
//!
//! With two grades it is the binomial logit, to the last digit of its score tests (`tests/rust/math/cumulative.rs`).

mod fit;
mod many;
mod odds;
mod point;
mod rows;
mod score;
mod sums;

pub use fit::{Cumulative, CumulativeFit};
pub use odds::{SlopesByCut, proportional_odds};
pub use rows::GradeRows;
pub use score::{HeldScore, columns_score, combination_score};
