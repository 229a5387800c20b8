//! Laws of plain counts, without a trial: how many have any, how many those have, and which law the counts follow.
//!
//! * `numbers`: what is asked, what is answered
//! * `rows`: counts, groups and columns as given, checked, rows that are alike put together
//! * `fitted`: one law fitted; groups without a number to fit apart
//! * `groups`: shares and means of groups with their limits; `beside` expected beside observed, and laws beside each other
//! * `words`, `told`: the answer

mod beside;
mod fitted;
mod groups;
mod numbers;
mod rows;
mod told;
mod words;

pub use numbers::{
    ColumnEffect, CountLawOptions, EffectOn, FittedCounts, GivenColumn, GivenCounts, GroupOfCounts, LawBeside,
    LawOfCounts,
};
pub use told::count_law;
