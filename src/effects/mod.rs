//! What a fitted model says: effect tests, odds ratios and adjusted rates; and P values adjusted for their number.

mod adjusted;
mod averaging;
mod effect_tests;
mod letter_groups;
mod multiplicity;
mod odds_ratios;
pub(crate) mod phrases;
mod simultaneous;

pub use adjusted::{AdjustedRate, AdjustedRates, adjusted_rates};
pub use effect_tests::{EffectTest, EffectTests, effect_tests};
pub use letter_groups::{LetterGroups, LetterOrder, letter_groups};
pub use multiplicity::{Adjustment, adjusted_p};
pub use odds_ratios::{OddsRatio, OddsRatios, odds_ratios};
pub use simultaneous::{Direction, Family, Simultaneous, SimultaneousRow, SingleStep, single_step};
