//! Trial data: reading, roles, checks, units, design.

mod alike;
mod calendar;
mod cell;
mod coding;
mod columns;
mod deaths;
mod design;
mod earlier;
mod frame;
mod issue;
mod kinds;
mod layout;
mod levels;
mod listed;
mod load;
mod new_rows;
mod outcomes;
#[cfg(feature = "polars")]
mod polars_frame;
mod read;
mod restarts;
mod roles;
mod sheet;
mod spoken;
mod suspects;
mod table;
mod tray_rows;
mod units;
mod unused;
mod validate;
mod yes_no;

pub(crate) use calendar::{follows_time, time_note};
pub use columns::{Covariate, Factor, UnitKind, Units};
pub use design::{Confounding, Design};
pub use earlier::for_later;
pub(crate) use earlier::{EarlierWords, earlier_words, with_earlier};
pub use frame::{Column, Frame};
pub use issue::{Issue, Severity};
pub(crate) use layout::Layout;
pub(crate) use listed::Listed;
pub use load::{Trial, from_cells, from_frame, read_csv};
pub use new_rows::NewRows;
pub use outcomes::Outcome;
pub use roles::{BadRows, LoadOptions, Source};
pub use sheet::{Lines, Shaped, Wide};
