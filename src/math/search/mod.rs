//! One search kit: roots, largest values, within bounds or along a condition, and limits of a profile.
//!
//! | asked for | known of the function | search |
//! |---|---|---|
//! | root | its sign at both ends | [`brent`] |
//! | root | that it falls, and its slope | [`falling_root`] |
//! | quantile | the logarithm of a tail and its slopes | `solve_tail` |
//! | largest value | one coordinate, one top | [`maximum`] |
//! | largest value | a sum of binomial terms | `supremum`, which cannot miss it |
//! | largest value | derivatives, any number of coordinates | [`maximise`], [`maximise_refined`], [`approach`] |
//! | largest value | the same, within a box | [`maximise_within`]; along a condition [`maximise_along`] |
//! | limits | the likelihood of many coordinates | [`Profile`], of a combination of them through `Turned` |
//!
//! `convergence` holds what all of them call settled, and the record a fit carries.

mod bounded;
mod confined;
mod convergence;
mod maximum;
mod newton;
mod newton_steps;
mod profile;
mod root;
mod supremum;
mod tail;
mod turned;

pub use bounded::{Point, Region, Surface, Top, maximise_within};
pub use confined::{Condition, Until, maximise_along};
pub use convergence::{Convergence, DECREMENT, RANK, STALLED_DECREMENT, Verdict};
pub use maximum::maximum;
pub use newton::falling_root;
pub use newton_steps::{Local, Maximum, Objective, approach, maximise, maximise_refined};
pub(crate) use profile::Along;
pub use profile::{Profile, fall_without};
pub use root::brent;
pub(crate) use supremum::{Supremum, supremum};
pub(crate) use tail::{TailAt, solve_tail};
pub(crate) use turned::Turned;
