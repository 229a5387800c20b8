//! Tables of counts, and the association of a treatment with rooting.

mod association;
mod clustered;
pub mod counts;
mod exact;
mod stratified;
mod trend;
mod words;

pub use association::{Association, AssociationOptions, AssociationTest, association};
pub use clustered::{ArmEffect, arm_effects, donner_chi_square, judged_by_f, rao_scott, rao_scott_orders};
pub use counts::*;
pub use exact::{ExactOptions, FreemanHalton, freeman_halton};
pub use stratified::*;
pub use trend::*;
pub use words::*;
