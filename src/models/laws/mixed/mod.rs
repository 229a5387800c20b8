//! Trays that differ by more than chance: the beta-binomial model and the binomial model with normal random intercepts.
//!
//! These are engines on plain slices: design columns, counts and groups go in, estimates with their likelihoods come out.
//!
//! Two numbers describe how alike two cuttings of one tray are, and they are not the same number:
//! - the **beta-binomial rho** `1 / (1 + a + b)`, where the tray's rate follows a beta law with shapes a and b: the correlation of
//!   the two outcomes, 0 or 1, in one tray;
//! - the **latent ICC** `s^2 / (s^2 + v)` of a random intercept with SD `s` on the link scale, `v` the variance of the link's
//!   tolerance law (logit `pi^2 / 3 = 3.29`, probit 1, both log-log links `pi^2 / 6`): a correlation of tolerances, always larger.

mod beta_binomial;
mod beta_likelihood;
mod engine;
mod groups;
mod hill;
mod laplace;
mod logit_tray;
mod marginal;
mod nodes;
mod one_tray;
mod penalty;
mod quadrature;
mod random_intercept;
mod random_setup;
mod random_spec;
mod rho;
mod rows;
mod tray_terms;

pub use beta_binomial::{BetaBinomialFit, BetaBinomialSpec};
pub(crate) use hill::Hill;
pub use marginal::{MarginalRate, latent_icc, marginal_rate};
pub(crate) use one_tray::TrayDensity;
pub use random_intercept::{Deviation, FittedRate, Integration, RandomInterceptFit};
pub use random_spec::{DeviationStatus, Method, RandomInterceptSpec};
pub use rho::{Rho, RhoStatus};
pub use rows::Rows;
pub(crate) use tray_terms::TrayTerms;
