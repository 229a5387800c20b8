//! Reading and checking a chain: one row per batch or tray with counts, or one row per plant.
//!
//! * `options`: what the columns are
//! * `cells`: cells of one row
//! * `days`: days of start and steps
//! * `rows`: one row per batch or tray, each problem told with its row and column
//! * `lineage`: batches that were split or merged
//! * `plants`: one row per plant with the last step it reached
//! * `loaded`: all of it together

mod cells;
mod days;
mod lineage;
mod loaded;
mod options;
mod plants;
mod rows;

pub use loaded::{read_cells, read_csv, read_frame};
pub use options::{StepDate, StepTreatment, StepsOptions, TakenAway};
