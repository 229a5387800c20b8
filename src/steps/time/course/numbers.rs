//! What is asked of visits over time, and what is answered.

use serde::{Deserialize, Serialize};

use crate::choice::choice;

/// What is waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum TimeEvent {
    /// Roots.
    #[default]
    Rooted,
    /// Death before roots.
    Dead,
}

choice!(
    TimeEvent, "event":
    Rooted = "rooted",
    Dead = "dead",
);

/// How shares over time are asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CourseOptions {
    /// The treatment whose levels are shown; all plants together where none is named.
    pub treatment: Option<String>,
    /// What is waited for.
    pub event: TimeEvent,
    /// Confidence of the limits.
    pub confidence: f64,
}

impl Default for CourseOptions {
    fn default() -> Self {
        Self { treatment: None, event: TimeEvent::Rooted, confidence: 0.95 }
    }
}

/// Shares of all started over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TimeCourse {
    /// The treatment; None where all plants are taken together.
    pub treatment: Option<String>,
    /// What is waited for.
    pub event: TimeEvent,
    /// Were deaths counted?
    pub deaths: bool,
    /// Confidence of the limits.
    pub confidence: f64,
    /// Each level.
    pub levels: Vec<LevelCourse>,
}

/// Shares of one level over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LevelCourse {
    /// The level; "all" where all plants are taken together.
    pub level: String,
    /// Trays; None where none were named.
    pub n_units: Option<u64>,
    /// Plants started.
    pub started: u64,
    /// Plants seen rooted.
    pub rooted: u64,
    /// Plants seen dead before they rooted.
    pub dead: u64,
    /// When half of all started have come to it.
    pub half: HalfBy,
    /// The share by the last day that would come out were the others, to which it can no longer happen, taken to wait on.
    pub if_others_waited: f64,
    /// Each visit.
    pub visits: Vec<ShareBy>,
}

/// When half of all started have come to it, known between two visits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HalfBy {
    /// Not yet on this day; None where it is less than half on the last day.
    pub after: Option<u64>,
    /// By this day; None where it is less than half on the last day.
    pub by: Option<u64>,
    /// Limits: after this day; None where even that is not known.
    pub low: Option<u64>,
    /// Limits: by this day; None where no end is known.
    pub high: Option<u64>,
}

/// Shares of all started by one visit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ShareBy {
    /// Days since setting.
    pub day: u64,
    /// Plants that were waiting before the visit and seen at it.
    pub at_risk: f64,
    /// Share to which it has happened.
    pub value: f64,
    /// Its lower limit.
    pub low: Option<f64>,
    /// Its upper limit.
    pub high: Option<f64>,
    /// Share that can no longer come to it: dead before roots, or rooted.
    pub other: f64,
    /// Share still waiting.
    pub waiting: f64,
}
