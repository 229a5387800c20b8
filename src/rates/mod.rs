//! Take rates with intervals: from plain counts ([`interval`]) and from trays ([`clustered`], [`take_rates`]).

pub mod clustered;
pub mod interval;
mod take_rates;
mod target;
mod words;

pub use clustered::{Arm, TraySpread, tray_interval, tray_spread};
pub use interval::*;
pub use take_rates::{TakeRate, TakeRates, TakeRatesOptions, TraysUse, take_rates};
pub(crate) use take_rates::{arm_of, cells};
pub use target::{TargetMethod, TargetTest, against_target, against_target_many};
pub use words::{interval_sentence, target_sentence};
