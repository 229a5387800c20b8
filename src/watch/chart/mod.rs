//! Charts of a crop: the sum of scores of all batches, and of each place, with limits that keep a promise over all of them together.
//!
//! Read in this order: `numbers` (a chart as it is told), `follow` (one chart), `asked` (all of them).

mod asked;
mod follow;
mod numbers;

pub(crate) use asked::{Charts, charted};
pub use follow::change_of;
pub use numbers::{Chart, ChartWeek, Charted, Quiet, Signal, SignalOptions};
