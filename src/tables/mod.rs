//! Tables of counts, and the association of a treatment with rooting.

mod association;
pub mod counts;

pub use association::{Association, AssociationOptions, AssociationTest, association, donner_chi_square};
pub use counts::*;
