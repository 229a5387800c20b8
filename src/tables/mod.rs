//! Tables of counts, and the association of a treatment with rooting.

mod association;
mod clustered;
pub mod counts;
mod crossed;
mod exact;
mod faces;
mod mix;
mod ordered_faces;
mod stratified;
mod trend;
mod words;
mod works;

pub use association::{Association, AssociationOptions, AssociationTest, association};
pub use clustered::{ArmEffect, arm_effects, donner_chi_square, judged_by_f, rao_scott, rao_scott_orders};
pub use counts::*;
pub use exact::{ExactOptions, FreemanHalton, freeman_halton};
pub use faces::{chi_square_answer, fisher_answer, freeman_halton_answer, three_way_answer};
pub use ordered_faces::{linear_by_linear_answer, stratified_answer, trend_answer};
pub use stratified::*;
pub use trend::*;
pub use words::*;
