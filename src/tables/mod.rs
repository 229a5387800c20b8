//! What a trial says of a treatment as a whole: its association with rooting, and trends along its levels.

mod association;
mod clustered;
mod crossed;
mod mix;
mod of_trial;
mod trend;

pub use association::{Association, AssociationMethod, AssociationOptions, AssociationTest, association};
pub use clustered::{ArmEffect, arm_effects, donner_chi_square, judged_by_f, rao_scott, rao_scott_orders};
pub use trend::{
    ScoredLevel, ScoredTray, TrayTrend, TrendTest, TrialTrend, TrialTrendOptions, adjusted_trend, tray_trend,
    trial_trend,
};
