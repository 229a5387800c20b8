//! Take rates with intervals: from plain counts ([`interval()`]) and from trays ([`clustered`], [`take_rates`]).

mod alike;
pub mod clustered;
mod faces;
mod icc;
pub mod interval;
mod of_trial;
mod over_places;
mod take_rates;
mod target;
mod words;

pub use alike::alike_p;
pub(crate) use alike::{leans_on_alike, more_alike};
pub use clustered::{Arm, PLANNING_ICC, TraySpread, tray_interval, tray_spread, tray_spread_within};
pub(crate) use clustered::{FromEarlier, Told, tray_spread_of, tray_spread_told, tray_spread_with};
pub use faces::{IntervalFaces, interval_answer, interval_faces, target_answer};
pub use icc::{
    AnovaCorrelation, BetaBinomialCorrelation, CorrelationEstimate, CorrelationMethod, CorrelationOptions,
    TrayCorrelation, anova_correlation, arms_of_lists, beta_binomial_correlation, tray_correlation, trial_correlation,
};
pub use interval::{IntervalMethod, Intervals, Sides, bound, interval, interval_effective, interval_many};
pub(crate) use interval::{wilson, wilson_corrected};
pub(crate) use over_places::OverPlaces;
pub use over_places::RateLayer;
pub use take_rates::{TakeRate, TakeRates, TakeRatesOptions, TraysUse, take_rates};
pub(crate) use take_rates::{arm_of, arms, cells, few_events, few_events_of, standard_error, uneven_mix};
pub use target::{TargetMethod, TargetTest, against_target, against_target_many};
pub use words::{interval_sentence, target_sentence};
