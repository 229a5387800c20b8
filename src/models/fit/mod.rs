//! Fitting: with Jeffreys' prior where cells let the likelihood rise without end (`separation`, `penalise`), a fit as a model (`assembled`), errors by
//! clusters (`robust`), a law of the trays (`law_fit`).

mod assembled;
pub(super) mod law_fit;
mod penalise;
pub(super) mod robust;
mod separation;

pub(crate) use assembled::assemble;
pub(crate) use law_fit::solved;
pub(crate) use penalise::fit_or_penalise;
pub(crate) use robust::{test_beyond, test_columns};
