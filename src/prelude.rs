//! What most programs need: `use rootling::prelude::*;`.

pub use crate::answer::{Answer, Note, Sheet};
pub use crate::checks::CheckOptions;
pub use crate::compare::{AllOptions, CompareOptions};
pub use crate::control::Control;
pub use crate::curves::{CurveOptions, DamageOptions, FittedCurves, NextOptions, SurfaceOptions};
pub use crate::effects::{ContrastOptions, LetterOptions, RateOptions};
pub use crate::error::{Error, Result};
pub use crate::models::{Model, ModelSpec, TrayMode};
pub use crate::rates::TakeRatesOptions;
pub use crate::tables::{AssociationOptions, TrialTrendOptions};
pub use crate::trial::{LoadOptions, Outcome, Trial, read_csv};
pub use crate::units::Strength;
