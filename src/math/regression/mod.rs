//! Binomial regression on a design, and what is read off it; means of units that hold many values.
//!
//! `link` (rates and their slopes), `restriction` (what is held), `information`, `irls` (the fit; `by_levels` where rows are levels only),
//! `cluster_robust` (covariance where rows belong together), [`isotonic`] (rates that only rise or fall, without any curve), `unit_means` (means of
//! trays and their differences), `cumulative` (ordered grades).

mod by_levels;
mod cluster_robust;
pub mod counts;
mod cumulative;
mod information;
mod irls;
pub mod isotonic;
mod link;
mod restriction;
mod unit_means;

pub use cluster_robust::{ClusterRobust, ClusteredFit, ClusteredRows, JointTest};
pub use cumulative::{
    Cumulative, CumulativeFit, GradeRows, HeldScore, SlopesByCut, columns_score, combination_score, proportional_odds,
};
pub use information::Information;
pub use irls::{Regression, Solution};
pub use link::{Link, Point};
pub use restriction::Restriction;
pub use unit_means::{UnitContrast, UnitMeans, UnitTest, UnitValues, mean_limits, ratio_limits};
