//! Root grades of cuttings in trays: the share that reaches a grade leads, all grades at once follow.
//!
//! * `trays`: how alike grades of one tray are, and trays as effective cuttings
//! * `judged`: tests of effects and limits of cumulative odds ratios, by one score
//! * `numbers`: what is asked, and what is found
//! * `placed`: units of a treatment with what they stand in, as rows of a design
//! * `all_grades`: a treatment judged by all grades at once
//! * `lead`: what the share that reaches a grade says; `told`: words; `asked`: the question itself

mod all_grades;
mod asked;
mod judged;
mod lead;
mod numbers;
mod placed;
mod told;
mod trays;

pub use judged::{GradeF, JudgedGrades, LogOdds};
pub use numbers::{AllGrades, GradeLevel, GradeOdds, GradeOptions, GradeRatio, GradeTest, Grades, RatioAtGrade};
pub use trays::{GradeCorrelation, effective_grades};
