//! Words and tables: numbers as they are read, cautions, citations, terminal tables. Knows results only.

pub mod cautions;
mod facts;
mod fitted;
mod gaps;
pub mod numbers;
pub mod references;
pub mod references_curves;
pub mod references_spread;
mod spoken;
pub mod text;

pub use facts::facts;
pub use fitted::{MOST_WORDS, fitted, words};
pub use gaps::{limits_apart, limits_read};
pub use numbers::{
    agree, confidence, degrees_of_freedom, interval, join, number, p_value, percent, plural, points, whole,
};
pub use spoken::{Spoken, capital, verb_for};
pub use text::render;
