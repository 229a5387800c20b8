//! The chain itself: take of each step, overall yield, where trees go, how many to start.
//!
//! * `passed`: plants that reached a step and passed it, batch by batch
//! * `yields`: takes and overall yield with their standard errors
//! * `first`: how often each step costs most when batches are drawn anew
//! * `start`: how many to start for so many at the end

mod first;
mod passed;
mod start;
mod yields;

pub use first::lost_most_often;
pub use passed::Passed;
pub use start::StartLaw;
pub use yields::{ChainYield, StepYield, chain_yield};
