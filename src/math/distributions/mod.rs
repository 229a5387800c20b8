//! Distributions: tails that keep their digits down to 1e-300, and quantiles. NaN in, NaN out.
//!
//! Functions of plain numbers stand in one module per distribution; `laws` makes values of them that implement statrs' traits.

pub mod beta;
pub mod beta_binomial;
pub(crate) mod beta_table;
pub mod binomial;
mod chi_mixture;
pub mod chi_squared;
pub mod dunnett;
pub mod fisher_f;
pub mod hypergeometric;
mod laws;
pub mod multivariate;
pub mod normal;
mod normal_table;
pub mod rng;
pub mod student_t;
pub mod studentized_range;

pub use laws::{Beta, BetaBinomial, Binomial, ChiSquared, FisherF, Hypergeometric, Normal, StudentT, StudentizedRange};
