//! Two rates compared: from plain counts ([`two_rates`]) and from trays ([`strengths`]).

mod permutation;
mod strengths;
mod trays;
pub mod two_rates;
mod verdict;

pub use permutation::{MOST_ENUMERATED, Randomisation, Stratum, randomisation_test};
pub use strengths::{CompareOptions, Comparison, strengths};
pub(crate) use strengths::{Group, code_of, column, constant_within, grouped};
pub use trays::{TrayTest, pooled_t, stratified_t, tray_difference, welch_t};
pub use two_rates::*;
