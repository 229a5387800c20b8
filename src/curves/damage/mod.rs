//! Where deaths begin to rise with the strength: numbers, computation (`threshold`), words, the answer, and what stands beside a strength curve
//! (`beside`).

mod answer;
mod beside;
mod numbers;
mod threshold;
mod words;

pub use answer::damage_threshold;
pub(super) use beside::beside;
pub use numbers::{DamageCurve, DamageOptions, DamageThreshold, Threshold};
