//! Root grades of cuttings in trays.
//!
//! * `trays`: how alike grades of one tray are, and trays as effective cuttings
//! * `judged`: tests of effects and limits of cumulative odds ratios, by one score

mod judged;
mod trays;

pub use judged::{GradeF, JudgedGrades, LogOdds};
pub use trays::{GradeCorrelation, effective_grades};
