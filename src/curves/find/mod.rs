//! What is found along fitted curves. The numbers (`numbers`), and whether a best strength may be stated (`stated`); limits over shapes (`hull`),
//! averages over shapes (`averaged`, `pairs`), the lowest strength that reaches a take (`adequate`), the best strength (`best`, `bootstrap`), strengths
//! for a take (`target`, `fieller`), curves compared (`compared`, `single_best`); `fits` keeps fitted curves with their best strengths.

mod adequate;
mod averaged;
mod best;
mod bootstrap;
mod compared;
mod fieller;
mod fits;
mod hull;
#[cfg(test)]
pub(super) mod invented;
mod numbers;
mod pairs;
mod single_best;
mod stated;
mod target;

pub(super) use adequate::{Goal, goal_limits, lowest};
pub(super) use averaged::{take, take_counted};
pub(super) use best::{as_strengths, find};
pub(super) use bootstrap::{Drawing, bootstrap};
pub(super) use compared::{JudgedBy, compare};
pub(super) use fits::Fits;
pub(super) use hull::{hull, within};
pub(super) use numbers::Placed;
pub use numbers::{
    Best, BestOf, BestsCompared, Bootstrap, Compared, Located, Shift, StrengthFor, StrengthLimits, StrengthMethod,
    Withheld,
};
pub(super) use single_best::bests_compared;
pub(super) use stated::{LEAST_STRENGTHS, NOTED, SPOKEN_OF, misses};
pub(super) use target::strengths_for;
