//! The binomial model. In reading order, each folder knowing those before it: what enters (`enter`), the design and its likelihood (`design`), what
//! errors draw on (`errors`), laws of the trays (`laws`, with the engines of `mixed`), the model and the fit it keeps (`kept`), fitting (`fit`), what a
//! fit is asked (`asked`), and words (`words`). `fitted` fits a model with its words, `outcomes` tells of other outcomes beside it, `of_trial` asks a
//! trial.

mod asked;
mod design;
mod enter;
mod errors;
mod fit;
mod fitted;
mod kept;
mod laws;
mod of_trial;
mod outcomes;
mod words;

pub use crate::math::regression::Link;
pub(crate) use asked::{CountLaw, HeldPlaces, OverPlaces, Spread as LayerSpread, change, fall_without};
pub use design::{Coefficient, Design, Fit, Inseparable, Profile};
pub(crate) use design::{inflation, score, score_parts};
pub use enter::{ColumnSpec, Confined, Frame, ModelSpec, PerUnit, Tally, Term, TrayMode, Variable};
pub use errors::{Above, Strata, Stratum, TrayCorrelation, WholePlots};
pub(crate) use errors::{split_plot, weighted};
pub(crate) use fit::{test_beyond, test_columns};
pub use kept::{Criteria, CriteriaUnit, EffectStatistic, Model, ProfileLimits, StatisticKind};
pub(crate) use kept::{Ready, is_robust, is_used, needs_logit, tail};
pub use laws::{EqualIcc, LawRecord, Spread, mixed};
pub(crate) use laws::{mixed::Hill, tray_law::Trays};
pub(crate) use words::{methods, references, taken_out, warning};
