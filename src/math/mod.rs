//! Numbers and slices: special functions, distributions, roots, optimisation, quadrature, linear algebra and random streams.
//!
//! Nothing here knows trays or treatments.

pub mod cholesky;
pub mod convergence;
pub mod distributions;
pub mod groups;
mod incomplete_beta;
mod incomplete_gamma;
mod inverse;
pub mod irls;
pub mod linalg;
pub(crate) mod maximum;
pub mod newton;
pub mod optimize;
pub mod profile;
pub mod quadrature;
pub mod rising;
pub mod rng;
pub mod roots;
pub mod sparse;
pub mod special;
pub(crate) mod stirling;
pub(crate) mod supremum;
