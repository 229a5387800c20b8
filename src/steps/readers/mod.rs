//! Two readers of the same plants: what they agree on.
//!
//! * `numbers`: what is asked, what is answered
//! * `kappa`: agreement beyond chance and its large-sample standard error
//! * `agreed`: all of it from tables of trays
//! * `told`: the answer in words

mod agreed;
mod kappa;
mod numbers;
mod told;

pub use kappa::{Kappa, kappa_of, kappa_weighted};
pub use numbers::{Agreement, AgreementOptions, GradeAgreement, GradeWeights};
pub use told::agreement;
