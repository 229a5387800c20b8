//! Take rates with intervals.

pub mod interval;

pub use interval::*;
