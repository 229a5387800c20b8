//! How many plants to start for so many at the end, and what so many started will bring.
//!
//! * `numbers`: what is asked, what is answered
//! * `told`: the answer in words

mod numbers;
mod told;

pub use numbers::{StartNumbers, StartOptions, StartQuestion};
