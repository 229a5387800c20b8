//! Levels of a treatment compared over trays ([`strengths`], [`all_levels`]); plain counts stand in [`crate::counts`].

mod adjusted;
mod adjusted_levels;
mod all_levels;
mod arms;
mod carried;
mod changing;
mod decision;
mod effective_strata;
mod equivalence;
mod how_sure;
mod lead;
mod named;
mod numbers;
mod of_places;
mod of_trial;
mod opinion;
mod outcomes;
mod permutation;
mod strengths;
mod trays;
mod two_levels;
mod verdict;
mod wanted;

pub(crate) use adjusted_levels::{AdjustedSlope, Uneven, uneven_note};
pub use all_levels::{AllComparisons, AllOptions, PairComparison, all_levels};
pub use carried::{Carried, CarriedLevel};
pub(crate) use carried::{crossed_left_out, crossed_note};
pub use changing::{Changing, DifferenceAt, HighestAt, changing, changing_levels};
pub use effective_strata::EffectiveStrata;
pub use equivalence::{Claim, Equivalence, EquivalenceOptions, MarginTest, equivalence};
pub(crate) use how_sure::{cannot_object, second_check};
pub(crate) use named::{code_of, column};
pub use numbers::{BesideDifference, CompareOptions, Comparison};
pub(crate) use of_places::{verdict as no_verdict_on_places, why as why_no_place_is_tested};
pub(crate) use permutation::{MOST_DEALT, randomisation_up_to};
pub use permutation::{
    MOST_ENUMERATED, Randomisation, RandomisationInterval, RandomisationOptions, RandomisedDifference,
    SeveralRandomisation, Stratum, TrayRateTest, TreatmentStratum, randomisation, randomisation_interval,
    randomisation_test, randomisation_test_of_several, tray_rate_test,
};
pub use strengths::strengths;
pub use trays::{TrayTest, pooled_t, stratified_t, welch_t};
pub(crate) use two_levels::{TwoLevels, two_level_test};
