//! Large symmetric positive definite matrices with few entries.
//!
//! `pattern` knows which entries there are and decomposes in the order given; `root` finds the order in which fewest are added.

mod pattern;
mod root;

pub use pattern::{Pattern, Sparse};
pub use root::{Layout, MANY, SparseRoot};
