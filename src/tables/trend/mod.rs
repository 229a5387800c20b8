//! Does rooting rise or fall along ordered groups?

mod exact;
mod groups;
mod linear;
mod plain;
mod trays;
mod trial;
mod words;

pub use exact::TrendExact;
pub use linear::{LinearByLinear, linear_by_linear};
pub use plain::{Trend, trend};
pub use trays::{ScoredTray, TrayTrend, adjusted_trend, tray_trend};
pub use trial::{ScoredLevel, TrendTest, TrialTrend, TrialTrendOptions, trial_trend};

pub(crate) use groups::{check_scores, scaled};
