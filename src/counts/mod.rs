//! Plain counts, without a trial: two rates, tables, strata and trends, each with its answer.
//!
//! Read in this order: `two_rates` (difference, ratio, odds ratio of two counts), `tables` (what is counted and its chi-square, exact and
//! unconditional tests, pairs), `exact` (r x c), `stratified`, `trend`, `shares` (a raw difference
//! taken apart into rates and mix), `laws` (how many of something each cutting has); then what they say: `words`, `faces`, `ordered_faces`.

mod exact;
mod faces;
mod laws;
mod ordered_faces;
mod shares;
mod stratified;
pub mod tables;
mod trend;
pub mod two_rates;
mod words;
mod works;

pub use exact::{ExactOptions, Exactness, FreemanHalton, freeman_halton};
pub use faces::{chi_square_answer, fisher_answer, freeman_halton_answer, three_way_answer};
pub use laws::{
    ColumnEffect, CountLawOptions, EffectOn, FittedCounts, GivenColumn, GivenCounts, GroupOfCounts, LawBeside,
    LawOfCounts, count_law,
};
pub use ordered_faces::{linear_by_linear_answer, stratified_answer, trend_answer};
pub use shares::{Cells, Parts, parts};
pub use stratified::{
    CommonOddsRatio, Generalised, Homogeneity, MantelHaenszel, Strata, Stratified, StratifiedOptions, generalised,
    homogeneity, mantel_haenszel, stratified,
};
pub use tables::{
    ChiSquare, ContingencyTable, FisherExact, Paired, PairedMethod, ThreeWay, UnconditionalOrder, UnconditionalTest,
    chi_square, fisher, paired, pairs, three_way, unconditional,
};
pub use trend::{LinearByLinear, Trend, TrendExact, linear_by_linear, trend};
pub use two_rates::{
    DifferenceMethod, OddsRatioMethod, RatioEstimate, RatioMethod, difference, difference_answer, difference_sentence,
    difference_until, equality_answer, likelihood_ratio_test, newcombe_effective, odds_ratio, odds_ratio_answer,
    odds_ratio_sentence, ratio, ratio_answer, ratio_effective, ratio_sentence, score_effective, score_test,
};
pub use words::{
    chi_square_sentence, fisher_sentence, freeman_halton_sentence, linear_by_linear_sentence, stratified_sentence,
    trend_sentence,
};
pub(crate) use works::FREEMAN_HALTON_1951;

pub(crate) use tables::{Conditional, MOST_CONDITIONAL};
pub(crate) use trend::line_of;
pub(crate) use two_rates::{gap_in_words, range_in_words, rates_in_words};
