//! Special functions of one or two numbers, and the rules by which sums and integrals are taken.
//!
//! Read in this order: `gamma` and `logit`; `stirling` (the saddle-point form in which densities keep their digits), `incomplete_beta` and
//! `incomplete_gamma` (the tails of most distributions, both sides at once); `quadrature` (Gauss rules), `rising` (sums of many like terms).

mod gamma;
mod incomplete_beta;
mod incomplete_gamma;
mod logit;
mod quadrature;
mod rising;
mod stirling;

pub use gamma::{ln_beta, ln_choose, ln_gamma, ln_rising, trigamma};
pub(crate) use incomplete_beta::{beta_tails, regularised};
pub(crate) use incomplete_gamma::{gamma_kernel, gamma_tails, ln_gamma_kernel};
pub use logit::{expit, log1mexp, logit};
pub use quadrature::{Rule, gauss_hermite, gauss_sum, normal_mean};
pub use rising::{Rising, RisingSums};
pub(crate) use stirling::{LN_SQRT_TWO_PI, Saddle, Share, deviance, stirling_error};
