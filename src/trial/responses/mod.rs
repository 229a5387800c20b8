//! What else is measured on a cutting than that it rooted: roots, lengths, masses, grades.
//!
//! * [`Response`], [`ResponseKind`], [`ResponseUnit`]: a column as declared when loading
//! * `misnamed`: what a declaration says that cannot be
//! * `entry`: one cell as a number of the declared kind; `checks`: cells beside what rooted
//! * [`Measured`]: the entries of a response, unit by unit; `told`: what the design says of them

mod checks;
mod declared;
mod entry;
mod measured;
mod misnamed;
mod told;

pub use declared::{Response, ResponseKind, ResponseUnit};
pub use measured::Measured;
pub(super) use measured::{Entry, by_units};
pub(super) use misnamed::misnamed;
pub(super) use told::tell;
