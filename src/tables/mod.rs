//! Tables of counts.

pub mod counts;

pub use counts::*;
