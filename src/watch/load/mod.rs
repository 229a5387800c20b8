//! Reading a record of batches: `options` (what the columns are), `dates`, `rows` (cells), `parents` (what was split from what), `batches`
//! (readings put together), `loaded` (all of it).

mod batches;
mod dates;
mod loaded;
mod options;
mod parents;
mod rows;

pub(crate) use dates::month_of;
pub use dates::{day_of, shown_day, shown_week};
pub use loaded::{read_cells, read_csv, read_frame};
pub use options::{StepColumns, WatchOptions};
