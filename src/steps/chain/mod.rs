//! The chain itself: take of each step, overall yield, where trees go, how many to start.
//!
//! * `passed`: plants that reached a step and passed it, batch by batch
//! * `judged`: how well a combination of takes is known
//! * `takes`: the takes of all steps, with what each batch adds to them
//! * `yields`: takes and overall yield with their standard errors
//! * `cost`: what a tree costs that reaches the end
//! * `first`: how often each step costs most when batches are drawn anew
//! * `start`: how many to start for so many at the end

mod cost;
mod first;
mod judged;
mod passed;
mod start;
mod takes;
mod yields;

pub(super) use cost::{TreeCost, tree_cost};
pub use first::lost_most_often;
pub(super) use judged::{Judged, Part, Rate, judged};
pub use passed::Passed;
pub(super) use passed::others;
pub use start::StartLaw;
pub(super) use takes::Takes;
pub(super) use yields::limits;
pub use yields::{ChainYield, StepYield, chain_yield};
