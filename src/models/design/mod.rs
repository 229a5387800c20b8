//! The design (`design_matrix`), coefficients on the user's scale (`coefficient`, `user_scale`), the likelihood (`likelihood`), and the
//! score (`score`, `score_by_sums`, `score_null`).

mod coefficient;
mod design_matrix;
mod likelihood;
mod score;
mod score_by_sums;
mod score_null;
mod user_scale;

pub use coefficient::Coefficient;
pub use design_matrix::{Design, Inseparable};
pub(crate) use likelihood::singular;
pub use likelihood::{Fit, Profile};
pub(crate) use score::{ScoreParts, score, score_parts};
pub(crate) use score_null::inflation;
pub(crate) use user_scale::user_scale;
