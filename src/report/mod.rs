//! Words and tables: numbers as they are read, cautions, citations, terminal tables. Knows results only.

pub mod cautions;
mod facts;
pub mod numbers;
pub mod references;
pub mod references_dose;
pub mod references_spread;
mod spoken;
pub mod text;

pub use facts::facts;
pub use numbers::{confidence, degrees_of_freedom, interval, join, number, p_value, percent, plural, points, whole};
pub use spoken::Spoken;
pub use text::render;
