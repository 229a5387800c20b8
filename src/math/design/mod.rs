//! Tall designs held by what their rows have in common.
//!
//! `groups` (lines that are alike in coded columns), `ranked` (such lines in the order of their codes), `products` (sums of products of columns), `coded_rows` (rows that are levels only),
//! `columns` (the design itself).

mod coded_rows;
mod columns;
mod groups;
mod products;
mod ranked;

pub(in crate::math) use coded_rows::CodedRows;
pub use columns::{Block, Columns, Entries, add_entries, along, entries_of};
pub use groups::{Codes, Distinct, Key, Sorted, distinct, sorted, tally};
pub use products::{Products, RunSums};
pub use ranked::{Ranked, constant_within, different, ranked};
