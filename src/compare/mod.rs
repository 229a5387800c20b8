//! Two rates compared.

pub mod two_rates;

pub use two_rates::*;
