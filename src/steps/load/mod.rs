//! Reading and checking a chain: one row per batch or tray with counts, or one row per plant.
//!
//! * `options`: what the columns are
//! * `cells`: cells of one row
//! * `days`: days of start and steps
//! * `totals`: rows that are no batch, but sums or averages of them
//! * `rows`: one row per batch or tray, each problem told with its row and column
//! * `lineage`: rows by what they came from
//! * `parts`: levels of parts, each from where it was split off
//! * `plants`: one row per plant with the last step it reached
//! * `both`: counts for early steps, plants for later ones
//! * `table`: a table of either, before it is read
//! * `asked`: columns and options that cannot be
//! * `together`: rows of one descent as one batch
//! * `loaded`: all of it together

mod asked;
mod both;
mod cells;
mod days;
mod lineage;
mod loaded;
mod options;
mod parts;
mod plants;
mod rows;
mod table;
mod together;
mod totals;

pub use loaded::{read_cells, read_csv, read_frame, read_with_plants};
pub use options::{StepDate, StepTreatment, StepsOptions, TakenAway};
pub use table::StepsTable;
