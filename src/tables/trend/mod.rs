//! Does rooting rise or fall along the ordered levels of a treatment?

mod numbers;
mod trays;
mod trial;
mod words;

pub use numbers::{ScoredLevel, TrendTest, TrialTrend, TrialTrendOptions};
pub use trays::{ScoredTray, TrayTrend, adjusted_trend, tray_trend};
pub use trial::trial_trend;
