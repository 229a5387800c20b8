//! The Rust test binary: one module per domain.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing, clippy::panic)]

#[macro_use]
mod support;

mod compare;
mod effects;
mod models;
mod rates;
mod report;
mod tables;
mod tails;
mod trays;
mod trial;
mod units;
