//! The binomial model: what enters, the design, the fit, its error strata and its likelihood profile.

mod design_matrix;
mod effective;
mod fitted;
mod likelihood;
pub mod mixed;
mod score;
mod separation;
mod spec;
mod strata;
mod terms;
mod tray_law;
mod wording;

pub use crate::math::irls::Link;
pub use design_matrix::{Aliased, Design};
pub use effective::TrayCorrelation;
pub(crate) use effective::weighted;
pub use fitted::{Coefficient, Model, ProfileLimits};
pub(crate) use fitted::{Ready, needs_logit, tail};
pub use likelihood::{Fit, Profile};
pub(crate) use score::score;
pub use spec::{ModelSpec, TrayMode};
pub(crate) use strata::split_plot;
pub use strata::{Strata, Stratum, WholePlots};
pub use terms::{Data, Frame, PerUnit, Tally, Term, Value, Variable};
pub use tray_law::Spread;
pub(crate) use tray_law::{fall_without, is_used};
pub(crate) use wording::{methods, references, warning};
