//! Hormone strengths: what a number on the bottle means, and what it equals in another unit.
//!
//! Weight per volume (liquids) and weight per weight (powders) are never mixed, nor are two substances.

mod convert;
mod formula;
mod method;
mod parse;
mod plausibility;
mod shown;
mod strength;
mod substance;
mod unit;

pub use convert::{common_axis, convert, equivalent};
pub use formula::Formula;
pub use method::Method;
pub use parse::parse;
pub use plausibility::plausibility;
pub use strength::{Strength, StrengthRecord};
pub use substance::Substance;
pub use unit::{Basis, Unit};
