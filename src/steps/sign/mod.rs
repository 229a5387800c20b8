//! An early sign of rooting: what it tells, and what culling on it saves and loses.
//!
//! * `numbers`: what is asked, what is answered
//! * `sums`: plants over trays, the rates of all of them, bounds of what was not read
//! * `corrected`: rates where plants were culled irrespective of outlook
//! * `measured`: each question with its limits
//! * `direction`: which way the sign points
//! * `decision`: the sentence
//! * `told`: the answer in words

mod corrected;
mod decision;
mod direction;
mod measured;
mod numbers;
mod sums;
mod told;

pub use numbers::{EarlySign, Kept, SignCounts, SignMeasure, SignOptions, SignPoints, SignQuestion};
pub use told::early_sign;
