//! Tables of counts, and the association of a treatment with rooting.

mod association;
mod clustered;
pub mod counts;
mod exact;
mod stratified;
mod tray_tests;
mod trend;

pub use association::{Association, AssociationOptions, AssociationTest, association, donner_chi_square};
pub use clustered::{ArmEffect, arm_effects, judged_by_f, rao_scott, rao_scott_orders};
pub use counts::*;
pub use exact::{ExactOptions, FreemanHalton, freeman_halton};
pub use stratified::*;
pub use trend::*;
