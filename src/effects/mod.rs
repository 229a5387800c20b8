//! What a fitted model says: effect tests, odds ratios and adjusted rates; and P values adjusted for their number.

mod adjusted;
mod averaging;
mod effect_tests;
mod multiplicity;
mod odds_ratios;
mod phrases;

pub use adjusted::{AdjustedRate, AdjustedRates, adjusted_rates};
pub use effect_tests::{EffectTest, EffectTests, effect_tests};
pub use multiplicity::{Adjustment, adjusted_p};
pub use odds_ratios::{OddsRatio, OddsRatios, odds_ratios};
