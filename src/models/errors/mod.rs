//! What errors draw on: how alike cuttings of one tray are (`effective`), strata of a fit (`stratum`, `strata`, `above`), which there are (`find_strata`),
//! and how scores vary over layers (`layered`).

mod above;
mod effective;
mod find_strata;
mod layered;
mod strata;
mod stratum;

pub use above::Above;
pub(crate) use above::layers_about;
pub use effective::TrayCorrelation;
pub(crate) use effective::weighted;
pub(crate) use find_strata::{Source, carrier, constant_effects, find, pearson, split_plot};
pub(crate) use layered::Layered;
pub use strata::Strata;
pub use stratum::{Stratum, WholePlots};
