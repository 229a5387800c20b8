//! After a signal: since when, where, how much, and how rarely chance shows as much when all weeks and places are looked through.
//!
//! Read in this order: `numbers`, `crop_law` (counts as they could have been), `scan` (weeks looked through), `looked`, `change` (all of it), `since`
//! (weeks), `form`, `levels` and `place` (where), `steps`.

mod change;
mod crop_law;
mod form;
mod levels;
mod looked;
mod numbers;
mod place;
mod scan;
mod since;
mod steps;

pub(crate) use change::{Alarms, Chain, Question};
pub(crate) use looked::Search;
pub use numbers::{Change, Form, GoesWith, PlaceChange, StepChange};
