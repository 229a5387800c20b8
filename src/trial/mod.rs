//! Trial data: reading, roles, checks, units, design.

mod alike;
mod anew;
mod asked;
mod calendar;
mod cell;
mod checker;
mod coded;
mod coding;
mod columns;
mod dates;
mod deaths;
mod design;
mod earlier;
mod fingerprint;
mod frame;
mod held;
mod kinds;
mod layout;
mod levels;
mod listed;
mod load;
mod mix;
mod named;
mod new_rows;
mod outcome_words;
mod outcomes;
mod plants;
#[cfg(feature = "polars")]
mod polars_frame;
mod reached;
mod read;
mod restarts;
mod roles;
mod sheet;
mod spoken;
mod suspects;
mod table;
mod texts;
mod tray_rows;
mod unit_words;
mod units;
mod unused;
mod validate;
mod yes_no;

pub(crate) use alike::similar_levels;
pub(crate) use anew::to_name;
pub(crate) use calendar::{Dated, dated, follows_time, time_note, time_tail};
pub(crate) use coded::{Constants, Joined, Levels, Members, Prepared, at_own_rate, at_rate, picked};
pub use coded::{Data, Numbers, Value, ValueTable, Values};
pub use columns::{Covariate, Factor, UnitKind, Units};
pub(crate) use dates::{DateOrder, Written, order_of, today, written};
pub use design::{Confounding, Design};
pub use earlier::for_later;
pub(crate) use earlier::{EarlierWords, earlier_words, with_earlier};
pub(crate) use fingerprint::fingerprint;
pub use frame::{Column, Frame};
pub use held::Trial;
pub(crate) use layout::Layout;
pub(crate) use listed::Listed;
pub use load::{from_cells, from_frame, read_csv};
pub(crate) use mix::{same_shares, uneven_beside, uneven_season};
pub(crate) use named::{unknown_question, unknown_rows};
pub use new_rows::NewRows;
pub use outcome_words::OutcomeWords;
pub use outcomes::Outcome;
pub(crate) use plants::{filled, plants};
pub use reached::{GradeCounts, GradesOf, Reached};
pub(crate) use roles::unknown_column;
pub use roles::{BadRows, LoadOptions, Source};
pub(crate) use sheet::label_word;
pub use sheet::{Lines, Shaped, Wide};
pub(crate) use texts::Texts;
pub(crate) use unit_words::{
    answer_of_unit, answer_of_units, called_head, counted_as, notes_of_units, text_of_unit, text_of_units, unit_called,
    units_head,
};
