//! Columns and small symmetric matrices, row after row.
//!
//! `linalg` (sums of columns, and the orthogonal decomposition that keeps their order), `cholesky` (solving; from [`MANY`](super::sparse::MANY)
//! rows on it leaves out what is 0), `normal_matrix` (sums of squares of rows), `symmetric` (eigenvalues), `rows`
//! (matrices that are handed out, and how records write them).

mod cholesky;
pub(crate) mod layers;
mod linalg;
mod normal_matrix;
pub(crate) mod rows;
mod symmetric;

pub use cholesky::{Cholesky, solve_rows, solve_turned};
pub use linalg::{Dependent, Qr, add_scaled, combined, dot, quadratic, times};
pub use normal_matrix::NormalMatrix;
pub use symmetric::{Eigen, apply, product, trace_of_product};
