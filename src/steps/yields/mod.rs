//! What a chain is asked: take of each step, overall yield, where trees go.
//!
//! * `numbers`: what is asked, what is answered
//! * `asked`: the batches that count, and what they come to
//! * `told`: the answer in words

mod asked;
mod numbers;
mod told;

pub use numbers::{StepNumbers, StepYields, YieldOf, YieldOptions};
