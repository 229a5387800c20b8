//! Tables of counts, and the association of a treatment with rooting.

mod association;
pub mod counts;
mod exact;
mod stratified;
mod trend;

pub use association::{Association, AssociationOptions, AssociationTest, association, donner_chi_square};
pub use counts::*;
pub use exact::{ExactOptions, FreemanHalton, freeman_halton};
pub use stratified::*;
pub use trend::*;
