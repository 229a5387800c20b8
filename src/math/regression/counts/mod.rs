//! Regression of counts that may have more zeros than their law: plain, truncated at zero, in two parts, or with zeros added.
//!
//! `jet` (a number with its derivatives by three coordinates), `law` (the logarithm of a probability as such a number), `fit`.

mod fit;
mod jet;
mod law;

pub use fit::{CountCell, CountFit, CountPattern, CountRegression};
pub use law::{CountLaw, Zeros};
