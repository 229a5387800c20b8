//! What a fitted model says: effect tests, odds ratios, adjusted rates, contrasts and letters; and P values adjusted for their number.

mod adjusted;
mod average;
pub(crate) mod averaging;
mod bounds;
mod coefficient_limits;
mod coefficients;
mod contrasts;
mod decisions;
mod judged_by;
mod letter_groups;
mod letters;
mod many_differences;
mod multiplicity;
mod numbers;
mod odds_ratios;
mod of_model;
pub(crate) mod phrases;
mod resolve;
mod simultaneous;
mod sizes;
mod untold;
mod what_matters;

pub use adjusted::RateOptions;
pub use average::{Average, RateOf};
pub use coefficients::{CoefficientEstimate, Coefficients};
pub(crate) use contrasts::along_a_line;
pub use contrasts::{Adjust, Contrast, ContrastOptions, Contrasts, Pattern, Scale};
pub(crate) use decisions::hint;
pub use letter_groups::{LetterGroups, LetterOrder, letter_groups};
pub(crate) use letter_groups::{letter_notes, letters_of_pairs};
pub use letters::LetterOptions;
pub(crate) use multiplicity::cited;
pub use multiplicity::{Adjustment, adjusted_p};
pub use numbers::{AdjustedRate, AdjustedRates, EffectTest, LetterRate, Letters, OddsRatio, OddsRatios, WhatMatters};
pub use simultaneous::{Direction, Family, Simultaneous, SimultaneousRow, SingleStep, single_step};
pub(crate) use what_matters::{effect_test, what_matters};
