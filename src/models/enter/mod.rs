//! What enters a model: what is asked (`spec`), variables and terms of effects (`variables`, `terms`), places that are taken out (`places`), units by
//! row (`joined`, `per_unit`), and all of it as the rows of a fit (`frame`).

mod frame;
mod joined;
mod per_unit;
mod places;
mod spec;
mod terms;
mod variables;

pub(crate) use frame::level_of;
pub use frame::{Frame, Tally};
pub use per_unit::PerUnit;
pub use places::Confined;
pub(crate) use places::constant;
pub use spec::{ModelSpec, TrayMode};
pub(crate) use terms::term_columns;
pub use terms::{ColumnSpec, Term};
pub use variables::Variable;
pub(crate) use variables::recorded;
