//! Does rooting rise or fall along the ordered levels of a treatment?

mod trays;
mod trial;
mod words;

pub use trays::{ScoredTray, TrayTrend, adjusted_trend, tray_trend};
pub use trial::{ScoredLevel, TrendTest, TrialTrend, TrialTrendOptions, trial_trend};
