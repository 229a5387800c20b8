//! Sheets as nurseries keep them: text cells with the row numbers a spreadsheet shows, brought to one row per tray before
//! anything is read as a number. Nothing here knows a reader or a frame but [`adapter`].

mod adapter;
mod asked;
mod cells;
mod dates;
mod fill;
mod grid;
mod header;
mod names;
mod odd_rows;
mod percent;
mod rates;
mod separators;
mod shape;
mod side_by_side;
mod sum_rows;
mod totals;
mod trays;
mod wide;

pub(super) use adapter::{frame_of, sheet_of};
pub use asked::{Shaped, Wide};
pub(super) use cells::Sheet;
pub(super) use dates::{looks_like_a_date, marks_yes};
pub(super) use fill::is_ditto;
pub use grid::Lines;
pub(super) use grid::lines_of;
pub(super) use header::find_header;
pub(super) use names::named;
pub(super) use odd_rows::{Held, odd_rows};
pub(super) use rates::{Share, percent_name, percent_values};
pub(super) use separators::{Marks, thousands_or_decimals};
pub(super) use shape::shape;
pub(super) use sum_rows::{Counted, sum_rows};
pub(crate) use totals::label_word;
pub(super) use totals::means;
