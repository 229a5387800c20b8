//! Numbers and slices: special functions, distributions, roots, optimisation, quadrature, linear algebra and random streams.
//!
//! Nothing here knows trays or treatments.

pub mod bounded;
mod by_levels;
pub mod cholesky;
pub mod cluster_robust;
mod coded_rows;
pub mod columns;
pub mod confined;
pub mod convergence;
pub mod distributions;
pub mod groups;
mod incomplete_beta;
mod incomplete_gamma;
pub mod information;
mod inverse;
pub mod irls;
pub mod isotonic;
pub mod linalg;
pub mod link;
pub(crate) mod maximum;
pub mod newton;
pub mod normal_matrix;
pub mod optimize;
mod products;
pub mod profile;
pub mod quadrature;
pub mod restriction;
pub mod rising;
pub mod rng;
pub mod roots;
pub mod sparse;
pub mod sparse_root;
pub mod special;
pub(crate) mod stirling;
pub(crate) mod supremum;
pub mod symmetric;
pub(crate) mod turned;
