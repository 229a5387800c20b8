//! Planning a trial: how many trays, what a design shows, and how near it comes.
//!
//! * [`PlannedTrial`], [`Question`]: what is to be set up, and what it is to answer
//! * [`power`], [`precision`], [`trays_needed`], [`smallest_difference`]: asked of it
//! * [`looks`], [`chance_at_end`]: a trial that may end early, and one under way
//! * [`best_strength`]: a trial that is to find it
//! * `kernel`: one trial drawn and judged by the tool's own default analysis, without a frame; `draw` counts of trays by tables
//! * `tried`: many of them; `uncertain`: what earlier trials tell of trays; `words`: what is said

mod curve;
mod design;
mod draw;
mod drawn;
mod ending;
mod kernel;
mod looks;
mod needed;
mod numbers;
mod numbers_curve;
mod numbers_looks;
mod options;
mod power;
mod question;
mod smallest;
mod tried;
mod uncertain;
mod words;
mod words_curve;
mod words_looks;

pub use curve::best_strength;
pub use design::{PlannedTrial, TrayLaw};
pub use drawn::{TraysToDraw, draw_counts, draw_trial, p_values};
pub use ending::chance_at_end;
pub use looks::looks;
pub use needed::trays_needed;
pub use numbers::{MoreCuttings, PairPower, PlanRow, Planned, Smallest, SmallestRow};
pub use numbers_curve::{CurveLayout, CurvePlan, CurvePlanOptions, StrengthTrays};
pub use numbers_looks::{Boundary, EndChance, EndChances, EndOptions, LookRow, Looks, LooksOptions};
pub use options::{BAND, PlanOptions};
pub use power::{power, precision};
pub use question::{Asked, Question};
pub use smallest::smallest_difference;
