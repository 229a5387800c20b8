//! Regression of counts that may have more zeros than their law: plain, truncated at zero, in two parts, or with zeros added.
//!
//! `given` (what is to be fitted); `parts` (one row, its slopes and bends written out) and `rows` (sums over them): laws of which each part is climbed by itself. `jet` (a number
//! with its derivatives by three coordinates), `law` (the logarithm of a probability as such a number) and `added`: both parts together.
//! `fit`.

mod added;
mod fit;
mod given;
mod jet;
mod law;
mod parts;
mod rows;

pub use fit::CountFit;
pub use given::{CountCell, CountPattern, CountRegression};
pub use law::{CountLaw, Zeros};
pub use parts::{Expected, fill_probabilities, probabilities};
