//! Confidence intervals for one take rate from counts that are independent of each other.

mod blaker;
mod effective;
mod exact;
mod likelihood;
mod many;
mod method;
mod normal_theory;
mod single;

pub use effective::interval_effective;
pub use many::{Intervals, interval_many};
pub use method::IntervalMethod;
pub use single::{Sides, bound, interval};

pub(crate) use many::{PARALLEL_FROM, check_counts};
pub(crate) use normal_theory::{wilson, wilson_corrected};
