//! Watching a crop: whether fewer survive than the same mix and time of year lets expect, since when, and where.
//!
//! * `load/`: reading and checking a record of batches
//! * `crop`: the record, one line per batch
//! * `baseline/`: what is expected of a batch, and how much batches and weeks differ anyway
//! * `law/`: scores of dates, the law of their sum, its limits
//! * `chart/`: all batches and each place followed week by week
//! * `after/`: since when, where, how much
//! * `against`, `mixed`: a rate against a target; parts of a raw difference
//! * `funnel`: rooms or grafters side by side
//! * `singly`: batches one by one
//! * `told/`: questions and answers
//! * `watched`: a crop under watch and its questions
//! * `weekly`: crops with a known answer, for calibration

mod after;
mod against;
mod baseline;
mod chart;
mod crop;
mod funnel;
mod law;
mod load;
mod mixed;
mod singly;
mod told;
mod watched;
mod weekly;

pub use after::{Change, Form, GoesWith, PlaceChange, StepChange};
pub use against::{AgainstTarget, Aim};
pub use baseline::{Baseline, Expectations, LevelRate};
pub use chart::{Chart, ChartWeek, Charted, Quiet, Signal, SignalOptions, change_of};
pub use crop::{Batch, Grouping, Part, monday_of, week_of};
pub use funnel::PlaceBeside;
pub use law::{
    DateScores, Expected, Law, Look, Running, Spreads, Truth, Typical, alive_law, average_limit, average_run_length,
    guarded, limit_for, run_length,
};
pub use load::{StepColumns, WatchOptions, day_of, read_cells, read_csv, read_frame, shown_day, shown_week};
pub use mixed::{MixChange, MixPart};
pub use singly::{BatchOptions, BatchSeen};
pub use told::{BaselineNumbers, BatchNumbers, MixOptions, PlaceNumbers, PlacesOptions, SignalNumbers, TargetOptions};
pub use watched::{BaselineOptions, Watch};
pub use weekly::{BatchSpread, Drop, WeeklyDesign};
