//! The model and what it keeps: limits and statistics that were asked before (`limits`, `statistic_kind`, `answered`), criteria (`criteria_of`,
//! `criteria`), the fit as questions read it (`ready`), and the record with what stands beside it (`model`).

mod answered;
mod criteria;
mod criteria_of;
mod limits;
mod model;
mod ready;
mod statistic_kind;

pub(crate) use criteria::criteria;
pub use criteria_of::{Criteria, CriteriaUnit};
pub use limits::ProfileLimits;
pub(crate) use limits::tail;
pub use model::Model;
pub(crate) use model::{Beside, Kept, is_robust, is_used, needs_logit};
pub(crate) use ready::{Ready, Solved};
pub use statistic_kind::{EffectStatistic, StatisticKind};
