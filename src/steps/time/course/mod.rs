//! Shares of all started over time: what is asked, worked out, and said.
//!
//! * `numbers`: what is asked, what is answered
//! * `asked`: shares of each level with limits, and when half have come to it
//! * `told`: the answer in words

mod asked;
mod numbers;
mod told;

pub use numbers::{CourseOptions, HalfBy, LevelCourse, ShareBy, TimeCourse, TimeEvent};
pub(super) use told::happened;
