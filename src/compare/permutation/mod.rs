//! Randomisation tests on trays, within strata (blocks, other treatments): two arms ([`randomisation_test`], with an interval
//! by inversion in [`randomisation_interval`]) and several treatments ([`randomisation_test_of_several`]).

mod answer;
mod dealing;
mod form;
mod interval;
mod several;
mod two;

pub use answer::{RandomisationOptions, RandomisedDifference, randomisation};
pub(crate) use dealing::MOST_DEALT;
pub use dealing::MOST_ENUMERATED;
pub use interval::{RandomisationInterval, randomisation_interval};
pub use several::{
    SeveralRandomisation, TrayRateTest, TreatmentStratum, randomisation_test_of_several, tray_rate_test,
};
pub use two::{Randomisation, Stratum, randomisation_test};
