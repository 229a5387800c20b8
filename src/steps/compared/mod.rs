//! Seasons, rooms, grafters, cultivars or treatments side by side, step by step.
//!
//! * `numbers`: what is asked, what is answered
//! * `side`: the batches of one level
//! * `shared`: batches with plants at both levels
//! * `mix`: what of a difference is the mix of other levels
//! * `pair`, `pair_told`: two levels, in numbers and words
//! * `levels`, `levels_told`: all levels of a column

mod levels;
mod levels_told;
mod mix;
mod numbers;
mod pair;
mod pair_told;
mod shared;
mod side;

pub use numbers::{
    CompareYieldsOptions, LevelPair, LevelStep, LevelYield, StepDifference, YieldComparison, YieldMix, YieldsByLevel,
};
