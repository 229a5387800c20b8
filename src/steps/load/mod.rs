//! Reading and checking counts of the chain: one row per batch or tray.
//!
//! * `options`: what the columns are
//! * `rows`: each cell read once, each problem told with its row and column
//! * `loaded`: all of it together

mod loaded;
mod options;
mod rows;

pub use loaded::{read_cells, read_csv, read_frame};
pub use options::{StepsOptions, TakenAway};
