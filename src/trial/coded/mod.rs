//! Units as models take them, in reading order: values of variables, levels that occur, units alike joined to rows, and what is worked out of
//! counts once for all models of them.

mod joined;
mod levels;
mod prepared;
mod values;

pub use joined::Data;
pub(crate) use joined::Joined;
pub(crate) use levels::Levels;
pub(crate) use prepared::{Constants, Members, Prepared, at_own_rate, at_rate};
pub(crate) use values::picked;
pub use values::{Numbers, Value, ValueTable, Values};
