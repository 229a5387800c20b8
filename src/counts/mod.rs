//! Plain counts, without a trial: two rates, tables, strata and trends, each with its answer.
//!
//! Read in this order: `two_rates` (difference, ratio, odds ratio of two counts), `tables` (what is counted and its chi-square, exact and
//! unconditional tests, pairs), `exact` (r x c), `stratified`, `trend`; then what they say: `words`, `faces`, `ordered_faces`.

mod exact;
mod faces;
mod ordered_faces;
mod stratified;
pub mod tables;
mod trend;
pub mod two_rates;
mod words;
mod works;

pub use exact::{ExactOptions, FreemanHalton, freeman_halton};
pub use faces::{chi_square_answer, fisher_answer, freeman_halton_answer, three_way_answer};
pub use ordered_faces::{linear_by_linear_answer, stratified_answer, trend_answer};
pub use stratified::*;
pub use tables::*;
pub use trend::{LinearByLinear, Trend, TrendExact, linear_by_linear, trend};
pub use two_rates::*;
pub use words::*;

pub(crate) use trend::line_of;
