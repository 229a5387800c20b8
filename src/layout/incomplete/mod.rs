//! Blocks too small for all levels, in replicates that hold each level once.
//!
//! * `design`: replicates of blocks, and their efficiency factor with its bound
//! * `search`: exchanges of levels between blocks of a replicate, until none helps

mod design;
mod search;

pub(super) use design::{Resolvable, block_sizes, bound};
pub(super) use search::found;
