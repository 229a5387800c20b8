//! Trial data: reading, roles, checks, units, design.

mod cell;
mod coding;
mod columns;
mod deaths;
mod design;
mod issue;
mod layout;
mod levels;
mod load;
mod new_rows;
mod read;
mod roles;
mod table;
mod units;
mod validate;

pub use columns::{Covariate, Factor, UnitKind, Units};
pub use design::{Confounding, Design};
pub use issue::{Issue, Severity};
pub(crate) use layout::Layout;
pub use load::{Trial, from_frame, read_csv};
pub use new_rows::NewRows;
pub use roles::{BadRows, LoadOptions, Source};
