//! The best strength over several seasons, whatever strengths each of them tested: what a new one may bring, how far it shifts.
//!
//! * `numbers`: what is asked, what is answered
//! * `entered`: seasons as given, each with its curve, and what it tells of its best strength
//! * `pooled`: all of it on the scale of the curves
//! * `told`: the decision and the rest a fact a line
//! * `answered`: the answer with all its faces

mod answered;
mod entered;
mod numbers;
mod pooled;
mod told;

pub use answered::pool_curves;
pub use entered::CurveSeason;
pub use numbers::{BestOptions, BestOut, BestOverSeasons, SeasonBest};
