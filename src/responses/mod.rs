//! What else is measured on a cutting than that it rooted, and what a trial is asked of it.
//!
//! * [`grade`]: root grades

pub mod grade;
