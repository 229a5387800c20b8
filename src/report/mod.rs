//! Words and tables: numbers as they are read, cautions, citations, terminal tables. Knows results only.

pub mod cautions;
pub mod numbers;
pub mod references;
pub mod references_dose;
pub mod references_spread;
pub mod text;

pub use numbers::{confidence, degrees_of_freedom, interval, join, number, p_value, percent, points, whole};
pub use text::render;
