//! The binomial model: what enters, the design, the fit, its error strata and its likelihood profile.

mod criteria;
mod design_matrix;
mod effect_statistic;
mod fitted;
mod frame;
mod likelihood;
pub mod mixed;
mod profile_limits;
mod separation;
mod spec;
mod strata;
mod terms;
mod tray_law;
mod user_scale;
mod values;
mod variables;
mod wording;

pub use crate::math::irls::Link;
pub use criteria::{Criteria, CriteriaUnit};
pub use design_matrix::{Aliased, Design};
pub(crate) use effect_statistic::change;
pub use effect_statistic::{EffectStatistic, StatisticKind};
pub use fitted::{Coefficient, Model};
pub(crate) use fitted::{Ready, needs_logit, tail};
pub use frame::{Data, Frame, PerUnit, Tally};
pub use likelihood::{Fit, Profile};
pub use profile_limits::ProfileLimits;
pub use spec::{ModelSpec, TrayMode};
pub(crate) use strata::split_plot;
pub use strata::{Strata, Stratum, WholePlots};
pub use terms::{ColumnSpec, Term};
pub use tray_law::Spread;
pub(crate) use tray_law::is_used;
pub use values::{Value, ValueTable, Values};
pub use variables::Variable;
pub(crate) use wording::{methods, references, warning};
