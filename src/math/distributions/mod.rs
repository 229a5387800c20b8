//! Distributions: tails that keep their digits down to 1e-300, and quantiles. NaN in, NaN out.

pub mod beta;
pub mod beta_binomial;
pub(crate) mod beta_table;
pub mod binomial;
mod chi_mixture;
pub mod chi_squared;
pub mod dunnett;
pub mod fisher_f;
pub mod hypergeometric;
pub mod multivariate;
pub mod normal;
mod normal_table;
pub mod rng;
pub mod student_t;
pub mod studentized_range;
