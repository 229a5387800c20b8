//! Exact tests of a 2 x 2 table that fix the two group sizes only.

mod margins;
mod order;
mod regions;
mod test;

pub use order::UnconditionalOrder;
pub use test::{UnconditionalTest, unconditional};
