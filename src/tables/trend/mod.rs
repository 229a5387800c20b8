//! Does rooting rise or fall along ordered groups?

mod exact;
mod groups;
mod linear;
mod plain;

pub use exact::{TrendExact, TrendExactOptions};
pub use linear::{LinearByLinear, linear_by_linear};
pub use plain::{Trend, trend};

pub(crate) use groups::check_scores;
