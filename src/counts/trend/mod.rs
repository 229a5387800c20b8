//! Does a rate rise or fall along ordered groups of counts?

mod exact;
mod groups;
mod linear;
mod plain;

pub use exact::TrendExact;
pub use linear::{LinearByLinear, linear_by_linear};
pub use plain::{Trend, trend};

pub(crate) use groups::{check_scores, scaled};
pub(crate) use plain::line_of;
