//! The law of what is charted: scores of batches and dates, the sum of them, its limits and run lengths.
//!
//! Read in this order: `lattice` (laws on whole steps), `batch` (one batch), `nodes` (layers between batches), `date` (all batches of a
//! date), `running` (the sum), `average` (a running average), `guard` (how much worse a crop may be than its estimated baseline).

mod average;
mod batch;
mod date;
mod guard;
mod lattice;
mod nodes;
mod running;

pub use average::{average_limit, average_run_length};
pub(crate) use batch::information;
pub use batch::{Expected, alive_law};
pub use date::{DateScores, Look, Spreads, Truth};
pub(crate) use guard::{FARTHEST, date_variance};
pub use guard::{Typical, guarded};
pub use lattice::Law;
pub use running::{Running, limit_for, run_length};
