//! Binomial regression on a design, and what is read off it.
//!
//! `link` (rates and their slopes), `restriction` (what is held), `information`, `irls` (the fit; `by_levels` where rows are levels only),
//! `cluster_robust` (covariance where rows belong together), [`isotonic`] (rates that only rise or fall, without any curve), `cumulative` (ordered
//! grades).

mod by_levels;
mod cluster_robust;
mod cumulative;
mod information;
mod irls;
pub mod isotonic;
mod link;
mod restriction;

pub use cluster_robust::{ClusterRobust, ClusteredFit, ClusteredRows, JointTest};
pub use cumulative::{
    Cumulative, CumulativeFit, GradeRows, HeldScore, SlopesByCut, columns_score, combination_score, proportional_odds,
};
pub use information::Information;
pub use irls::{Regression, Solution};
pub use link::{Link, Point};
pub use restriction::Restriction;
