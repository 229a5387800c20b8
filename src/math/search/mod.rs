//! One search kit: roots, largest values, within bounds or along a condition, and limits of a profile.
//!
//! | asked for | known of the function | search |
//! |---|---|---|
//! | root | its sign at both ends | [`brent`] |
//! | root | that it rises, and a good guess | `root_from`; `root_until` where each value takes long |
//! | root | that it falls, and its slope | [`falling_root`] |
//! | whole number | that a condition holds from there on | [`boundary`] |
//! | quantile | the logarithm of a tail and its slopes | `solve_tail` |
//! | largest value | one coordinate, one top | [`maximum`] |
//! | largest value | a sum of binomial terms | `supremum`, which cannot miss it |
//! | largest value | derivatives, any number of coordinates | [`maximise`], [`maximise_refined`], [`approach`] |
//! | largest value | the same, within a box | [`maximise_within`]; along a condition [`maximise_along`] |
//! | limits | the likelihood of many coordinates | [`Profile`], of a combination of them through `Turned` |
//!
//! `convergence` holds what all of them call settled, and the record a fit carries.
//!
//! Some searches stay with their only user, since they end for a reason of their own: the mode of a tray's effect, which need not be met
//! (`models::mixed`); the widest point of a ball, along one angle (`effects::contrasts`); the limit of an exact difference, whose P
//! value jumps (`counts::two_rates`); limits of a contrast, where fits may fail on the way.

mod bounded;
mod confined;
mod convergence;
mod maximum;
mod newton;
mod newton_steps;
mod outward;
mod profile;
mod root;
mod supremum;
mod tail;
mod turned;
mod whole;

pub use bounded::{Point, Region, Surface, Top, maximise_within};
pub use confined::{Condition, Until, maximise_along};
pub use convergence::{Convergence, DECREMENT, RANK, STALLED_DECREMENT, Verdict};
pub use maximum::maximum;
pub use newton::falling_root;
pub(crate) use newton_steps::definite;
pub use newton_steps::{Local, Maximum, Objective, approach, maximise, maximise_refined};
pub(crate) use outward::{root_from, root_until};
pub(crate) use profile::{Along, LIFT};
pub use profile::{Profile, fall_without};
pub use root::brent;
pub(crate) use supremum::{Supremum, supremum};
pub(crate) use tail::{TailAt, solve_tail};
pub(crate) use turned::Turned;
pub use whole::boundary;
