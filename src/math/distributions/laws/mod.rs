//! Distributions as values: parameters are checked once, and statrs' traits say what is asked of them.
//!
//! The numbers are those of the functions beside this folder ([`normal`](super::normal), [`beta`](super::beta) and so on); only the words are
//! statrs': `cdf`, `sf`, `inverse_cdf`, `pdf`, `pmf`, `mean`, `variance`. Import the trait whose word is used. Entropies are not given.
//!
//! Nothing here panics, also where the traits would allow it: a point of a probability outside 0 to 1 is not a number
//! (`try_inverse_cdf` says why), and a count for one is the nearest end.
//!
//! `parameters` (what may enter), `continuous` and `counts` (what a law must tell for the traits to follow), then the laws.

mod beta;
mod beta_binomial;
mod binomial;
mod chi_squared;
mod continuous;
mod counts;
mod fisher_f;
mod hypergeometric;
mod largest;
mod normal;
mod parameters;
mod student_t;

pub use beta::Beta;
pub use beta_binomial::BetaBinomial;
pub use binomial::Binomial;
pub use chi_squared::ChiSquared;
pub use fisher_f::FisherF;
pub use hypergeometric::Hypergeometric;
pub use largest::StudentizedRange;
pub use normal::Normal;
pub use student_t::StudentT;
