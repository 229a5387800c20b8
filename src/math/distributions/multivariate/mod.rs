//! Multivariate normal and t probabilities: rectangles of any covariance, and the largest of many correlated statistics.
//!
//! Probabilities are averages over quasi-random points, with an error from independent random shifts. Seeds are arguments;
//! results do not depend on the number of threads. Covariances may be singular, as those of all pairwise differences are.

mod conditional;
mod directions;
mod largest;
mod panel;
mod points;
mod rectangle;
mod scale_table;
mod simplex;
mod slices;
mod vectors;

pub(crate) use directions::Directions;
pub use largest::Largest;
pub use points::{Precision, Probability};
pub(crate) use rectangle::correlation_of as correlation;
pub use rectangle::{Rectangle, rank, rectangle};
pub(crate) use slices::Slices;
