//! How many plants to start for so many at the end, and what so many started will bring.
//!
//! * `numbers`: what is asked, what is answered
//! * `known`: what followed batches tell of plants to be started
//! * `told`: the answer in words

mod known;
mod numbers;
mod told;

pub use numbers::{SeasonSpread, StartNumbers, StartOptions, StartQuestion};
