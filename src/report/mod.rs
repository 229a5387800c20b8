//! Words and tables: numbers as they are read, cautions, citations, and the one renderer of tables. Knows results only.
//!
//! * [`written()`], [`heading`]: one number by what it is, one column by its name
//! * [`cells()`], [`rendered`]: a table as heads and cells for a [`Format`], and laid out there
//! * [`numbers`], [`cautions`], [`references`]: what sentences, notes and lists of works are made of

pub mod cautions;
mod cells;
mod dois;
mod escapes;
mod facts;
mod fitted;
mod format;
mod gaps;
mod heads;
pub mod numbers;
pub mod references;
pub mod references_curves;
pub mod references_decide;
pub mod references_grades;
pub mod references_layout;
pub mod references_plan;
pub mod references_responses;
pub mod references_seasons;
pub mod references_spread;
pub mod references_steps;
pub mod references_tables;
pub mod references_watch;
mod spoken;
mod sure;
mod written;

pub use cells::{Shown, cells, render, rendered};
pub use dois::doi_of;
pub use facts::facts;
pub use fitted::{MOST_WORDS, fitted, words};
pub use format::Format;
pub use gaps::{limits_apart, limits_read};
pub use heads::{heading, own_names};
pub use numbers::{
    agree, confidence, degrees_of_freedom, interval, join, number, p_value, percent, plural, points, whole,
};
pub use spoken::{Spoken, capital, verb_for};
pub(crate) use sure::{HOW_SURE, with_confidence};
pub use written::written;
