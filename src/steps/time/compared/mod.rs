//! Levels compared over time: what is asked, worked out, and said.
//!
//! * `numbers`: what is asked, what is answered
//! * `sides`: trays of two levels, place by place
//! * `left_out`: what is learnt by leaving out trays or places
//! * `pair`: two levels: shares, the ratio of rates, trays dealt anew
//! * `asked`: which pairs, and their P values together
//! * `decision`: the sentence
//! * `told`: the answer in words

mod asked;
mod decision;
mod left_out;
mod numbers;
mod pair;
mod sides;
mod told;

pub use numbers::{OtherShares, PaceNumbers, RateNumbers, TimesCompared, TimesOptions, TimesPair};
