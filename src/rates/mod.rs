//! Take rates with intervals: from plain counts ([`interval`]) and from trays ([`clustered`], [`take_rates`]).

pub mod clustered;
mod icc;
pub mod interval;
mod take_rates;

pub use clustered::{Arm, TraySpread, tray_interval, tray_spread};
pub use icc::*;
pub use interval::*;
pub use take_rates::{TakeRate, TakeRates, TakeRatesOptions, TraysUse, take_rates};
pub(crate) use take_rates::{arm_of, arms, cells};
