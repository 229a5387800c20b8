//! Randomisation tests on trays, within strata (blocks, other treatments): two arms ([`randomisation_test`], with an interval
//! by inversion in [`randomisation_interval`]) and several treatments ([`randomisation_test_of_several`]).

mod answer;
mod dealing;
mod deck;
mod form;
mod interval;
mod several;
mod strata;
mod two;

pub use answer::{RandomisationOptions, RandomisedDifference, randomisation};
pub(crate) use dealing::MOST_DEALT;
pub use dealing::MOST_ENUMERATED;
pub use interval::{RandomisationInterval, randomisation_interval};
pub use several::{SeveralRandomisation, TrayRateTest, randomisation_test_of_several, tray_rate_test};
pub use strata::{Stratum, TreatmentStratum};
pub(crate) use two::randomisation_up_to;
pub use two::{Randomisation, randomisation_test};
