//! One difference over several seasons: the average, a new season, how seasons differ.
//!
//! * `measured`: a season's difference, its variance, and how well that is known
//! * `between`: estimates of the variance between seasons
//! * `average`: averages with limits, and the test of treatment x season
//! * `ahead`: a new season and seasons apart, by draws
//! * `numbers`: what is asked, what is answered
//! * `entered`: seasons as given, asked and checked
//! * `pooled`: all of it from seasons that entered
//! * `told`, `pool`: the answer in words, with all its faces
//! * `best/`: the best strength over seasons, whatever strengths each of them tested

mod ahead;
mod average;
mod best;
mod between;
mod entered;
mod measured;
mod numbers;
mod pool;
mod pooled;
mod told;

pub use ahead::{Draws, drawn};
pub use average::{Average, SeasonTest, average_as_one, average_of_these, average_over, season_test};
pub use best::{BestOptions, BestOut, BestOverSeasons, CurveSeason, SeasonBest, pool_curves};
pub use between::{paule_mandel, q_profile, restricted_likelihood, scatter, spread_squared_for};
pub use entered::{Given, Season};
pub use measured::Measured;
pub use numbers::{PoolOptions, Pooled, SeasonChanges, SeasonDifference, SeasonLeftOut, WithoutSeason};
pub use pool::pool;
