//! Levels compared over time: what is asked, worked out, and said.
//!
//! * `numbers`: what is asked, what is answered
//! * `pair`: two levels: shares, the ratio of rates, trays dealt anew
//! * `asked`: which pairs, and their P values together
//! * `told`: the answer in words

mod asked;
mod numbers;
mod pair;
mod told;

pub use numbers::{RateNumbers, TimesCompared, TimesOptions, TimesPair};
